"use strict";
/* The pages work without this. With it: the notice is read out, a button waits for its answer,
   and the journal knows a name. */
(function () {
  const NAME = "wingrest-name";

  const notice = document.getElementById("notice");
  if (notice) notice.focus({ preventScroll: true });

  const field = document.getElementById("whose");
  if (field) {
    try {
      field.value = localStorage.getItem(NAME) || "";
      field.addEventListener("change", () => localStorage.setItem(NAME, field.value.trim()));
      field.closest(".whose").hidden = false;
    } catch (_) { /* no storage here: the journal does without a name */ }
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "1";
    if (field && field.value.trim()) {
      const who = document.createElement("input");
      who.type = "hidden"; who.name = "who"; who.value = field.value.trim();
      form.append(who);
    }
    const button = form.querySelector("button");
    if (button) button.setAttribute("aria-busy", "true");
  });

  /* A page from the browser's memory offers forms that may be out of date. */
  window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
})();
