"""Swapped, dead and reversed hoses: every single and double mistake. Case B6. Both interpreters.

What the sensors feel is computed from connectors and ports (check_rig.Hoses), not from the
firmware's table. An explanation is right if undoing what it names makes the hoses right.
"""

from alula.ground_check.wiring import EXPECTED, PORT_WORDS, UNEXPLAINED, Wiring
from alula.pressure_ratio import PLUMBINGS
from check_words import mistakes
from tests.both.check_rig import Hoses

SIDES = ("pitot-high", "pitot-low", "angled-high", "angled-low")


def answers(hoses: Hoses) -> list:
    """(pitot, angled) answers of each port, -1, 0, 1."""
    found = []
    for port in hoses.ports:
        felt = hoses.feel({name: int(name == port) for name in hoses.ports})
        found += [max(-1, min(1, felt[0])), max(-1, min(1, felt[1]))]
    return found


def single_mistakes(ports) -> list:
    """(name, what it does to hoses) of every single mistake."""
    found = []
    for i in range(len(ports)):
        found.append(("blocked " + ports[i], lambda h, p=ports[i]: h.blocked.append(p)))
        for j in range(i):
            found.append(("ports %s %s" % (ports[j], ports[i]),
                          lambda h, a=ports[j], b=ports[i]: h.swap_ports(a, b)))
    for i in range(4):
        found.append(("off " + SIDES[i], lambda h, s=SIDES[i]: h.at.update({s: None})))
        for j in range(i):
            found.append(("sides %s %s" % (SIDES[j], SIDES[i]),
                          lambda h, a=SIDES[j], b=SIDES[i]: h.swap_connectors(a, b)))

    def sensors(hoses) -> None:
        hoses.swap_connectors("pitot-high", "angled-high")
        hoses.swap_connectors("pitot-low", "angled-low")

    return found + [("sensors", sensors)]


def judged(plumbing: int, seen: list) -> Wiring:
    wiring = Wiring(plumbing)
    for i in range(len(seen)):
        wiring.seen[i] = seen[i] % 3
    wiring.begin()
    for _ in range(200):
        if wiring.search():
            return wiring
    raise AssertionError("never ends")


def predicted(plumbing: int, wiring: Wiring) -> list:
    """What the named mistakes do to right hoses, by moving hoses: an independent way round."""
    hoses = Hoses(PLUMBINGS[plumbing])
    names = hoses.ports
    order = {names[i]: names[wiring.order[i]] for i in range(len(names))}
    back = {order[name]: name for name in names}
    hoses.at = {side: back[port] for side, port in hoses.at.items()}
    felt = []
    lines = ("pitot", "static") + (None,)
    common = {0: "static", 1: "pitot", 2: None}[plumbing]
    assert common in lines
    for port in names:
        pitot, angled = hoses.feel({name: int(name == port) for name in names})
        if order[port] == common and wiring.cut >= 0:
            # the channel whose branch is off, counted before sensors are exchanged
            if wiring.cut ^ int(wiring.exchanged) == 0:
                pitot = 0
            else:
                angled = 0
        if wiring.exchanged:
            pitot, angled = angled, pitot
        if wiring.reversed_pitot:
            pitot = -pitot
        if wiring.reversed_angled:
            angled = -angled
        dead = wiring.dead >> names.index(port) & 1
        felt += [0, 0] if dead else [pitot, angled]
    return felt


def test_the_table_of_answers_is_what_the_hoses_do():
    for plumbing in range(3):
        assert tuple(answers(Hoses(PLUMBINGS[plumbing]))) == EXPECTED[plumbing]
        assert PORT_WORDS[plumbing] == Hoses(PLUMBINGS[plumbing]).ports
        found = judged(plumbing, list(EXPECTED[plumbing]))
        assert found.mistakes == 0 and mistakes(found, plumbing) == []


def test_b6_every_single_mistake_is_found_and_named():
    for plumbing in range(3):
        right = list(EXPECTED[plumbing])
        for name, spoil in single_mistakes(Hoses(PLUMBINGS[plumbing]).ports):
            hoses = Hoses(PLUMBINGS[plumbing])
            spoil(hoses)
            seen = answers(hoses)
            found = judged(plumbing, seen)
            case = (PLUMBINGS[plumbing], name, seen)
            if seen == right:  # such as two ends of the same tee exchanged: nothing is wrong
                assert found.mistakes == 0, case
                continue
            assert found.mistakes > 0, case
            assert mistakes(found, plumbing), case
            if found.mistakes != UNEXPLAINED:
                assert predicted(plumbing, found) == seen, (case, mistakes(found, plumbing))


def test_b6_the_usual_single_mistakes_get_their_own_words():
    cases = (
        ("port-static", "ports pitot angled", "hose of the pitot port"),
        ("port-static", "ports static angled", "hose of the static port"),
        ("port-static", "ports pitot static", "hose of the pitot port"),
        ("port-static", "blocked angled", "nothing answers to the angled port"),
        ("port-static", "blocked static", "nothing answers to the static port"),
        ("port-static", "off pitot-high", "nothing answers to the pitot port"),
        ("port-static", "off angled-low", "branch of the common line to the angled sensor"),
        ("port-static", "off pitot-low", "branch of the common line to the pitot sensor"),
        ("port-static", "sides pitot-high pitot-low", "pitot sensor's two hoses"),
        ("port-static", "sides angled-high angled-low", "angled sensor's two hoses"),
        ("pitot-port", "sides angled-high angled-low", "angled sensor's two hoses"),
        ("pitot-port", "ports static angled", "hose of the static port"),
        ("pitot-port", "ports pitot angled", "hose of the pitot port"),
        ("pitot-port", "off angled-high", "branch of the common line to the angled sensor"),
        ("pitot-port", "blocked pitot", "nothing answers to the pitot port"),
        ("opposed", "ports angled upper", "angled sensor's two hoses"),  # the same thing
        ("opposed", "sides pitot-high pitot-low", "pitot"),
        ("opposed", "off angled-low", "nothing answers to the upper port"),
        ("opposed", "ports static upper", "hose of the static port"),
    )
    for plumbing, name, words in cases:
        hoses = Hoses(plumbing)
        dict(single_mistakes(hoses.ports))[name](hoses)
        number = PLUMBINGS.index(plumbing)
        found = judged(number, answers(hoses))
        assert found.mistakes == 1, (plumbing, name)
        lines = mistakes(found, number)
        assert words in lines[0], (plumbing, name, lines)


def test_b6_every_double_mistake_is_refused_and_explained_or_said_to_be_beyond_that():
    unexplained = total = 0
    for plumbing in range(3):
        right = list(EXPECTED[plumbing])
        singles = single_mistakes(Hoses(PLUMBINGS[plumbing]).ports)
        for first, spoil in singles:
            for second, spoil_more in singles:
                hoses = Hoses(PLUMBINGS[plumbing])
                spoil(hoses)
                spoil_more(hoses)
                seen = answers(hoses)
                found = judged(plumbing, seen)
                case = (PLUMBINGS[plumbing], first, second, seen)
                total += 1
                assert (found.mistakes == 0) == (seen == right), case
                if found.mistakes == UNEXPLAINED:
                    unexplained += 1
                    assert "every hose" in mistakes(found, plumbing)[-1], case
                elif found.mistakes:
                    assert predicted(plumbing, found) == seen, (case, mistakes(found, plumbing))
    assert total > 800 and unexplained < total


def test_any_answers_at_all_end_in_a_verdict():
    for plumbing in range(3):
        ports = len(PORT_WORDS[plumbing])
        for i in range(3 ** (2 * ports)):
            if ports == 4 and i % 7:  # a seventh of the 6561
                continue
            seen, left = [], i
            for _ in range(2 * ports):
                seen.append(left % 3 - 1)
                left //= 3
            found = judged(plumbing, seen)
            assert (found.mistakes == 0) == (seen == list(EXPECTED[plumbing]))
            assert found.mistakes == 0 or mistakes(found, plumbing)
