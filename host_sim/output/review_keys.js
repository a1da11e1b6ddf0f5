"use strict";
// Keys, buttons, and the start of the page.

function keys(review) {
  const step = () => review.view[1] - review.view[0] < 30 ? 0.1 : 1;
  const table = {
    " ": () => review.play(!review.playing),
    "ArrowLeft": (shift) => shift ? review.pan(-0.25) : review.moveTo(review.at_s - step()),
    "ArrowRight": (shift) => shift ? review.pan(0.25) : review.moveTo(review.at_s + step()),
    "+": () => review.zoom(1 / 1.6), "=": () => review.zoom(1 / 1.6),
    "-": () => review.zoom(1.6), "_": () => review.zoom(1.6),
    "0": () => review.whole(),
    "n": () => review.jump(1), "p": () => review.jump(-1),
    ".": () => review.setVolume(Number($("volume").value) + 10),
    ",": () => review.setVolume(Number($("volume").value) - 10),
    "Home": () => review.moveTo(review.data.from_s),
  };
  document.addEventListener("keydown", (event) => {
    const owns = event.target.closest("input, select, textarea");
    const presses = event.key === " " && event.target.closest("button, summary, a");
    const act = table[event.key];
    if (owns || presses || !act || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    act(event.shiftKey);
  });
}

function buttons(review) {
  const on = (id, act) => $(id).addEventListener("click", act);
  on("play", () => review.play(!review.playing));
  on("in", () => review.zoom(1 / 1.6));
  on("out", () => review.zoom(1.6));
  on("back", () => review.pan(-0.5));
  on("ahead", () => review.pan(0.5));
  on("all", () => review.whole());
  on("previous", () => review.jump(-1));
  on("next", () => review.jump(1));
  $("volume").addEventListener("input", () => review.setVolume(Number($("volume").value)));
  for (const button of document.querySelectorAll("button[data-from]")) {
    button.addEventListener("click", () => {
      const from = Number(button.dataset.from), to = Number(button.dataset.to);
      review.moveTo(from);
      review.show(from - 5, to + 5);
      $("charts").scrollIntoView({ block: "start" });
    });
  }
  if ($("which")) $("which").addEventListener("change", () => {
    const playing = review.playing;
    review.play(false);
    review.heard = Number($("which").value);
    review.tell();
    if (playing) review.play(true);
  });
}

async function start() {
  const review = new Review(JSON.parse($("data").textContent));
  window.review = review;
  await review.load();
  review.draw();
  keys(review);
  buttons(review);
  review.whole();
  let wait;
  window.addEventListener("resize", () => { clearTimeout(wait); wait = setTimeout(() => review.resize(), 100); });
  window.addEventListener("beforeprint", () => { review.play(false); review.resize(700); });
  window.addEventListener("afterprint", () => review.resize());
  $("loading").hidden = true;
  document.body.dataset.ready = "yes";
}

start().catch((error) => {
  $("loading").textContent = "The charts cannot be shown by this browser (" + error.message +
    "). Use a newer one; the tables below and the pictures beside this page say the same.";
  throw error;
});
