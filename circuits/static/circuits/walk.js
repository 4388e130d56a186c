"use strict";
// One step of a walk-through at a time, over the whole screen. Without this script the steps stand
// below one another and print one to a page.
(() => {
  const walk = document.querySelector("[data-walk]");
  const open = document.querySelector("[data-show-walk]");
  const bar = document.querySelector("[data-walk-bar]");
  const steps = [...walk.querySelectorAll("[data-step]")];
  const others = () => [...document.body.children].flatMap((each) =>
    each.contains(walk) ? [...each.children].filter((child) => child !== walk) : [each]);
  let now = 0;
  open.hidden = false;

  function turn(to) {
    now = Math.min(Math.max(to, 0), steps.length - 1);
    steps.forEach((step, at) => step.classList.toggle("is-now", at === now));
    bar.querySelector("[data-walk-back]").disabled = now === 0;
    bar.querySelector("[data-walk-on]").disabled = now === steps.length - 1;
    steps[now].querySelector("h2").focus();
  }

  function show() {
    walk.classList.add("is-shown");
    bar.hidden = false;
    others().forEach((each) => { each.inert = true; });
    // Where the browser refuses, the walk-through still covers the whole page.
    walk.requestFullscreen?.().catch(() => {});
    turn(now);
  }

  function close() {
    if (!walk.classList.contains("is-shown")) { return; }
    walk.classList.remove("is-shown");
    bar.hidden = true;
    others().forEach((each) => { each.inert = false; });
    const left = document.fullscreenElement ? document.exitFullscreen() : Promise.resolve();
    // What lies outside the full screen cannot take the focus before that is left.
    left.then(() => open.focus());
  }

  open.addEventListener("click", show);
  bar.querySelector("[data-walk-back]").addEventListener("click", () => turn(now - 1));
  bar.querySelector("[data-walk-on]").addEventListener("click", () => turn(now + 1));
  bar.querySelector("[data-walk-end]").addEventListener("click", close);
  document.addEventListener("fullscreenchange", () => { if (!document.fullscreenElement) { close(); } });
  document.addEventListener("keydown", (event) => {
    if (!walk.classList.contains("is-shown")) { return; }
    const step = { ArrowLeft: -1, PageUp: -1, ArrowRight: 1, PageDown: 1 }[event.key];
    if (step) { event.preventDefault(); turn(now + step); }
    if (event.key === "Home") { event.preventDefault(); turn(0); }
    if (event.key === "End") { event.preventDefault(); turn(steps.length - 1); }
    if (event.key === "Escape") { close(); }
  });
})();
