"use strict";
/* The first hour works without this. With it: the time zone is this device's where the computer
   did not say one, and a board is drawn to scale as its measures are typed. */
(function () {
  const zone = document.getElementById("begin-settings-timezone");
  if (zone && !zone.value) {
    const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
    if (Array.from(zone.options).some((one) => one.value === here)) zone.value = here;
  }

  const SVG = "http://www.w3.org/2000/svg";
  const field = (name) => document.getElementById("begin-boards-" + name);
  const last = field("room");
  if (!last) return;
  const drawing = document.createElementNS(SVG, "svg");
  drawing.setAttribute("class", "board growing");
  drawing.setAttribute("role", "img");
  drawing.setAttribute("hidden", "");
  last.closest("p").after(drawing);

  const mm = (name) => Number((field(name).value || "").replace(",", "."));
  const box = (kind, x, y, width, height) => {
    const rect = document.createElementNS(SVG, "rect");
    for (const [key, value] of Object.entries({ class: kind, x, y, width, height })) {
      rect.setAttribute(key, value);
    }
    return rect;
  };

  function draw() {
    const groove = mm("groove_mm"), length = mm("length_mm"), span = mm("span_mm");
    const known = groove >= 0.5 && groove <= 40 && length >= 30 && length <= 2000
      && span >= 20 && span <= 400 && groove < span;
    drawing.toggleAttribute("hidden", !known);
    if (!known) return;
    drawing.setAttribute("viewBox", `0 0 ${length + 14} ${span + 4}`);
    drawing.setAttribute("aria-label",
      `A board ${length} mm long and ${span} mm across, its groove ${groove} mm wide`);
    drawing.replaceChildren(
      box("wood", 1, 2, length + 12, span),
      box("groove", 7, 2 + (span - groove) / 2, length, groove));
  }

  for (const name of ["groove_mm", "length_mm", "span_mm"]) field(name).addEventListener("input", draw);
  draw();
})();
