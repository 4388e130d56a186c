"use strict";
// Tags by pointer or arrow keys. The fields hold the truth; without this script they are typed.
(() => {
  const form = document.querySelector("[data-tagging]");
  const picture = document.querySelector(".tagged-picture");
  const STEP = 1;
  const fields = (place) => ["across", "down"].map((way) => document.getElementById(`${way}-${place}`));
  const size = picture.viewBox.baseVal.width / 18;

  function shown(place) {
    const found = [...picture.querySelectorAll("[data-tag]")].find((tag) => tag.dataset.tag === place);
    if (found) { return found; }
    const make = (name) => document.createElementNS("http://www.w3.org/2000/svg", name);
    const tag = make("svg");
    tag.setAttribute("class", "tag");
    tag.dataset.tag = place;
    const circle = make("circle");
    circle.setAttribute("r", size);
    const text = make("text");
    for (const [name, value] of [["font-size", 0.65 * size], ["dy", "0.35em"], ["text-anchor", "middle"]]) { text.setAttribute(name, value); }
    text.textContent = place;
    tag.append(circle, text);
    picture.append(tag);
    return tag;
  }

  function draw(place) {
    const [across, down] = fields(place).map((field) => field.value.trim().replace(",", "."));
    if (!across || !down) {
      [...picture.querySelectorAll("[data-tag]")].find((tag) => tag.dataset.tag === place)?.remove();
      return;
    }
    const tag = shown(place);
    tag.setAttribute("x", `${across}%`);
    tag.setAttribute("y", `${down}%`);
  }

  function put(place, across, down) {
    const within = (share) => String(Math.round(Math.min(Math.max(share, 0), 100) * 10) / 10);
    const [one, other] = fields(place);
    [one.value, other.value] = [within(across), within(down)];
    draw(place);
  }

  picture.addEventListener("click", (event) => {
    const place = form.elements.chosen.value;
    if (!place) { return; }
    const spot = new DOMPoint(event.clientX, event.clientY).matrixTransform(picture.getScreenCTM().inverse());
    const box = picture.viewBox.baseVal;
    put(place, (100 * spot.x) / box.width, (100 * spot.y) / box.height);
  });
  form.addEventListener("input", (event) => {
    const row = event.target.closest("[data-tag-row]");
    if (row) { draw(row.dataset.tagRow); }
  });
  form.addEventListener("keydown", (event) => {
    const row = event.target.closest("[data-tag-row]");
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!row || !way || !event.altKey) { return; }
    event.preventDefault();
    const [across, down] = fields(row.dataset.tagRow).map((field) => Number(field.value.replace(",", ".") || 50));
    put(row.dataset.tagRow, across + way[0] * STEP, down + way[1] * STEP);
  });
})();
