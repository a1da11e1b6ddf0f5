"""Ways to plug three or four hoses. Runs at start-up."""


def arrangements(count: int) -> tuple:
    """Every order of 0 to count - 1, fewest exchanges first."""
    found: list = [()]
    for _ in range(count):
        found = [order + (new,) for order in found for new in range(count) if new not in order]
    ranked = []
    for cost in range(count):
        ranked += [order for order in found if exchanges(order) == cost]
    return tuple(ranked)


def exchanges(order) -> int:
    """How many exchanges of two hoses make this order: its length less its cycles. No
    allocation."""
    cost = 0
    for start in range(len(order)):
        at, lowest, length = order[start], start, 1
        while at != start:
            if at < lowest:
                lowest = at
            length += 1
            at = order[at]
        if lowest == start:
            cost += length - 1
    return cost
