"use strict";
/* With this a tap changes its card and nothing jumps, a page that lies open follows what others
   record, and what is tapped without reception is kept on this phone and sent once: its slip
   makes a repeat harmless. The pages work without it. */
(function () {
  const ASK_MS = 15000;
  const GIVE_UP_MS = 30000;
  const main = () => document.querySelector("main");
  const pulse = document.getElementById("pulse");
  if (!pulse || !window.fetch || !window.DOMParser) return;
  let seen = pulse.dataset.at;
  let typed = false;
  let sending = false;
  let turn = Promise.resolve();
  const sent = [];  // slips of this page's own taps: nobody was quicker there

  /* --- What is kept on the phone. ------------------------------------------------------- */
  let opened = null;
  function drawer() {
    opened = opened || new Promise((done, failed) => {
      const asked = indexedDB.open("wingrest", 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore("taps", { keyPath: "slip" });
      asked.onsuccess = () => done(asked.result);
      asked.onerror = () => failed(asked.error);
    });
    return opened;
  }
  async function inDrawer(mode, work) {
    const db = await drawer();
    return new Promise((done, failed) => {
      const change = db.transaction("taps", mode);
      const asked = work(change.objectStore("taps"));
      change.oncomplete = () => done(asked.result);
      change.onerror = change.onabort = () => failed(change.error);
    });
  }
  const keep = (tap) => inDrawer("readwrite", (taps) => taps.put(tap));
  const forget = (slip) => inDrawer("readwrite", (taps) => taps.delete(slip));
  async function kept() {
    try {
      const all = await inDrawer("readonly", (taps) => taps.getAll());
      return all.sort((a, b) => a.tapped - b.tapped);
    } catch (_) { return []; }
  }

  /* --- Sending. ------------------------------------------------------------------------- */
  function post(action, body) {
    const stop = new AbortController();
    const clock = setTimeout(() => stop.abort(), GIVE_UP_MS);
    return fetch(action, {
      method: "POST", body: new URLSearchParams(body), credentials: "same-origin", signal: stop.signal,
    }).finally(() => clearTimeout(clock));
  }
  function keyOf(action, body) {
    const fields = [...new URLSearchParams(body)].filter(([name]) => !["slip", "back", "who", "day_of", "spot", "at", "then", "over"].includes(name));
    return JSON.stringify([new URL(action, location.href).pathname, fields]);
  }
  function read(text) { return new DOMParser().parseFromString(text, "text/html"); }
  function whyNot(page) {
    const told = page.querySelector("main");
    if (!told) return "The answer cannot be read.";
    return [...told.querySelectorAll("p, li")].map((p) => p.textContent.trim().replace(/\s+/g, " "))
      .filter((text) => text && text !== "Look again").join(" ");
  }

  function withOwn(body) {
    const more = new URLSearchParams(body);
    sent.slice(-50).forEach((slip) => more.append("sent_before", slip));
    more.set("phone_clock", String(Date.now()));
    return more.toString();
  }
  let eye = 0;
  async function tapped(form, button) {
    eye = Math.max(0, form.getBoundingClientRect().top);
    const data = new FormData(form);
    if (button && button.name) data.append(button.name, button.value);
    const body = new URLSearchParams(data).toString();
    const label = (button ? button.textContent : "").trim().replace(/\s+/g, " ");
    const tap = { slip: data.get("slip"), action: form.action, body, label, tapped: Date.now(), refused: "" };
    if ((await kept()).some((one) => !one.refused)) { await later(tap); return; }  // in their order
    let answer, text;
    try {
      answer = await post(form.action, withOwn(body));
      text = await answer.text();
    } catch (_) { await later(tap); return; }
    if (answer.ok && answer.redirected) { sent.push(tap.slip); shown(answer.url, text); }
    else refusedHere(form, read(text));
  }
  async function later(tap) {
    try { await keep(tap); } catch (_) {
      window.alert("No reception, and this browser keeps nothing: " + tap.label + " was NOT recorded.");
      location.reload();
      return;
    }
    document.dispatchEvent(new Event("wingrest:kept"));
    await showKept();
    flush();
  }
  async function flush() {
    if (sending) return;
    sending = true;
    let last = null;
    try {
      for (const tap of await kept()) {
        if (tap.refused) continue;
        const body = new URLSearchParams(withOwn(tap.body));
        body.set("waited", String(Math.max(0, Math.round((Date.now() - tap.tapped) / 1000))));
        const answer = await post(tap.action, body.toString());
        const text = await answer.text();
        if (answer.ok && answer.redirected) {
          sent.push(tap.slip);
          await forget(tap.slip);
          last = [answer.url, text];
        } else if (answer.status >= 500) break;  // it is busy, or restarts: again soon
        else await keep(Object.assign(tap, { refused: whyNot(read(text)) }));
      }
    } catch (_) { /* still no reception */ } finally { sending = false; }
    if (last) shown(...last);
    await showKept();
  }

  /* --- Showing. ------------------------------------------------------------------------- */
  function landmarks() {
    return [...main().querySelectorAll("[id]")]
      .filter((e) => e instanceof HTMLElement && e.id !== "notice" && e.offsetParent !== null);
  }
  function swap(page, withNotice) {
    const fresh = page.querySelector("main");
    if (!fresh) return;
    const notice = withNotice ? null : document.getElementById("notice");
    const were = landmarks().map((e) => [e.id, e.getBoundingClientRect().top]);
    // After a tap what stands below it stays where it was, else what is seen first.
    const from = withNotice ? eye : 0;
    const near = were.filter(([, top]) => top >= from).concat(were.filter(([, top]) => top < from).reverse());
    main().replaceWith(document.adoptNode(fresh));
    if (notice && !document.getElementById("notice")) main().prepend(notice);
    for (const [id, top] of near) {
      const now = document.getElementById(id);
      // The mark of what is gone stands elsewhere: it would pull the page there.
      if (now && !now.dataset.lost && now.offsetParent !== null) { window.scrollBy(0, now.getBoundingClientRect().top - top); break; }
    }
    const beat = page.getElementById("pulse");
    if (beat) seen = beat.dataset.at;
    document.dispatchEvent(new Event("wingrest:shown"));
    showKept();
  }
  function shown(address, text) {
    const to = new URL(address, location.href);
    if (to.pathname !== location.pathname) { location.href = address; return; }
    const query = new URL(location.href).searchParams;
    for (const name of ["room", "groove", "begin", "card"]) {
      if (query.has(name) && !to.searchParams.has(name)) to.searchParams.set(name, query.get(name));
    }
    history.replaceState(null, "", to.pathname + to.search);
    typed = false;
    const asked = ["room", "groove", "begin", "card"].some((name) => to.searchParams.has(name));
    if (asked) again(to.href, true); else swap(read(text), true);
    const notice = document.getElementById("notice");
    if (notice) notice.focus({ preventScroll: true });
  }
  async function again(address, withNotice) {
    try {
      const answer = await fetch(address, { credentials: "same-origin" });
      if (answer.ok) swap(read(await answer.text()), withNotice);
      if (withNotice) { const notice = document.getElementById("notice"); if (notice) notice.focus({ preventScroll: true }); }
    } catch (_) { /* no reception: what is shown stays */ }
  }
  function refusedHere(form, page) {
    const told = page.querySelector("main");
    const place = document.createElement("section");
    place.className = "notice warn here";
    place.id = "refused";
    place.tabIndex = -1;
    place.setAttribute("aria-label", "What was not recorded");
    if (told) place.append(...document.adoptNode(told).childNodes);
    const old = document.getElementById("refused");
    if (old) old.remove();
    ((form.isConnected && form.closest("li, article, section")) || main()).prepend(place);
    delete form.dataset.sent;
    form.querySelectorAll("button").forEach((b) => b.removeAttribute("aria-busy"));
    place.focus({ preventScroll: false });
  }
  function line(text, kind) {
    const p = document.createElement("p");
    p.className = kind || "";
    p.textContent = text;
    return p;
  }
  async function showKept() {
    const taps = await kept();
    const old = document.getElementById("kept-taps");
    if (old) old.remove();
    document.querySelectorAll("form.kept").forEach((form) => {
      form.classList.remove("kept");
      form.querySelectorAll("button").forEach((b) => { b.disabled = false; });
      form.querySelectorAll(".kept-word").forEach((w) => w.remove());
    });
    if (!taps.length) return;
    const place = document.createElement("section");
    place.className = "notice";
    place.id = "kept-taps";
    place.setAttribute("aria-label", "Kept on this phone");
    place.setAttribute("aria-live", "polite");
    const when = (tap) => new Date(tap.tapped).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
    for (const tap of taps) {
      if (!tap.refused) { place.append(line("Waiting to be sent: " + tap.label + ", tapped at " + when(tap) + ".")); continue; }
      const p = line("Not recorded: " + tap.label + ", tapped at " + when(tap) + ". " + tap.refused, "warn");
      const away = document.createElement("button");
      away.type = "button"; away.className = "peg plain"; away.textContent = "Put away";
      away.addEventListener("click", async () => { await forget(tap.slip); showKept(); });
      place.append(p, away);
    }
    main().prepend(place);
    const waiting = new Set(taps.filter((t) => !t.refused).map((t) => keyOf(t.action, t.body)));
    document.querySelectorAll("form.tap").forEach((form) => {
      if (!waiting.has(keyOf(form.action, new URLSearchParams(new FormData(form)).toString()))) return;
      form.classList.add("kept");
      form.querySelectorAll("button").forEach((b) => { b.disabled = true; });
      const word = document.createElement("span");
      word.className = "kept-word"; word.textContent = "waiting to be sent";
      form.append(word);
    });
  }

  /* --- Following what others record. ---------------------------------------------------- */
  async function ask() {
    if (document.visibilityState !== "visible") return;
    try {
      const answer = await fetch(pulse.dataset.ask, { headers: { "If-None-Match": seen }, cache: "no-store" });
      if ((await kept()).some((tap) => !tap.refused)) await flush();
      const now = answer.headers.get("ETag");
      if (answer.status !== 200 || !now || now === seen || typed) return;
      seen = now;
      const here = new URL(location.href);
      ["line", "again", "said", "spot"].forEach((name) => here.searchParams.delete(name));
      await again(here.href, false);
    } catch (_) { /* no reception: what is shown stays */ }
  }
  document.addEventListener("input", (event) => { if (event.target.id !== "whose") typed = true; });
  document.addEventListener("visibilitychange", ask);
  document.addEventListener("wingrest:refresh", () => again(location.href, true));
  window.addEventListener("online", flush);
  setInterval(ask, ASK_MS);

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || !form.classList.contains("tap") || !window.indexedDB) return;
    event.preventDefault();
    const button = event.submitter;
    turn = turn.then(() => tapped(form, button)).catch(() => location.reload());
  });
  showKept().then(flush);

  /* This page was loaded before anything could keep it: it is asked for once more. */
  async function keepThisPage() {
    if (!navigator.serviceWorker.controller) {
      await new Promise((done) => navigator.serviceWorker.addEventListener("controllerchange", done, { once: true }));
    }
    const files = [...document.querySelectorAll("script[src], link[rel=stylesheet]")].map((e) => e.src || e.href);
    try { await Promise.all([location.href, ...files].map((file) => fetch(file))); } catch (_) { return; }
    document.documentElement.dataset.kept = "1";
  }

  /* Only where the browser trusts the address: installable, the last state readable offline. */
  if (window.isSecureContext && "serviceWorker" in navigator && pulse.dataset.worker) {
    navigator.serviceWorker.register(pulse.dataset.worker).catch(() => {});
    navigator.serviceWorker.ready.then(keepThisPage);
  }
})();
