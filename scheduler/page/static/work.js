"use strict";
/* Cards turn here without asking the server: by a tap, a swipe or an arrow key, also without
   reception. The screen stays on where the browser lets it. Without this each card is a page. */
(function () {
  const FAR_PX = 60;
  const READY = 3;
  const cards = () => [...document.querySelectorAll(".work-card")];
  const place = (card) => { history.replaceState(null, "", card.dataset.address); };

  function turn(way) {
    const all = cards();
    const here = all.findIndex((card) => !card.hidden);
    const to = all[here + (way === "on" ? 1 : -1)];
    if (!to) return false;
    all[here].hidden = true;
    to.hidden = false;
    place(to);
    const notice = document.getElementById("notice");
    if (notice) notice.remove();
    window.scrollTo(0, 0);
    to.querySelector("h1").focus({ preventScroll: true });
    if (all.length - all.indexOf(to) <= READY && !document.getElementById("at-end")) {
      document.dispatchEvent(new Event("wingrest:refresh"));
    }
    return true;
  }
  function go(way) {
    if (turn(way)) return;
    const link = document.querySelector(`.work-card:not([hidden]) [data-turn="${way}"]`);
    if (link) location.href = link.href;
  }

  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-turn]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    if (turn(link.dataset.turn)) event.preventDefault();
  });
  document.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey || event.target.matches("input, textarea, select")) return;
    if (event.key === "ArrowRight") go("on");
    else if (event.key === "ArrowLeft") go("back");
  });
  let from = null;
  document.addEventListener("touchstart", (event) => {
    from = event.touches.length === 1 ? [event.touches[0].clientX, event.touches[0].clientY] : null;
  }, { passive: true });
  document.addEventListener("touchend", (event) => {
    if (!from) return;
    const x = event.changedTouches[0].clientX - from[0];
    const y = event.changedTouches[0].clientY - from[1];
    from = null;
    if (Math.abs(x) > FAR_PX && Math.abs(x) > 2 * Math.abs(y)) go(x < 0 ? "on" : "back");
  }, { passive: true });
  /* What was tapped without reception waits; the work goes on. */
  document.addEventListener("wingrest:kept", () => turn("on"));

  /* The address names the card, so that the page knows where it was when others change the day. */
  function named() {
    const top = cards().find((card) => !card.hidden);
    if (top) place(top);
  }
  document.addEventListener("wingrest:shown", named);
  named();

  const said = document.getElementById("awake");
  async function stayAwake() {
    if (document.visibilityState !== "visible") return;
    let on = false;
    try { await navigator.wakeLock.request("screen"); on = true; } catch (_) { /* said below */ }
    said.textContent = on ? said.dataset.on : said.dataset.off;
    said.hidden = false;
  }
  document.addEventListener("visibilitychange", stayAwake);
  stayAwake();
})();
