// Keeps what was entered, files too, until the server has taken it, and lets the work
// go on meanwhile. Forms work without this.
"use strict";
(() => {
  const badge = document.getElementById("waiting");
  const away = document.getElementById("away");
  const TEXT_MS = 15000, FILE_MS = 120000;

  // that nobody answers is known to the next page too, before it has asked
  // and that nobody can tell whether a step is clear, as long as entries may wait
  const gate = () => {
    const note = document.getElementById("gate-away");
    if (!note) return;
    note.hidden = away.hidden;
    document.querySelectorAll("[data-gate]").forEach((part) => { part.hidden = !away.hidden; });
  };
  const silent = (now) => {
    away.hidden = !now;
    gate();
    try { if (now) sessionStorage.setItem("eavelight.away", "1"); else sessionStorage.removeItem("eavelight.away"); } catch { /* no storage: asked again */ }
  };
  try { away.hidden = !sessionStorage.getItem("eavelight.away"); } catch { /* the same */ }
  gate();

  // ---- what waits, on this device ------------------------------------------------
  const asked = (request) => new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });
  let opened = null;
  const base = () => {
    opened ||= new Promise((done, failed) => {
      const request = indexedDB.open("eavelight", 1);
      request.onupgradeneeded = () => {
        for (const name of ["waiting", "refused"]) request.result.createObjectStore(name, { keyPath: "key", autoIncrement: true });
      };
      request.onsuccess = () => done(request.result);
      request.onerror = () => failed(request.error);
    });
    return opened;
  };
  const shelf = async (name, mode) => (await base()).transaction(name, mode, { durability: "strict" }).objectStore(name);
  const all = async (name) => asked((await shelf(name, "readonly")).getAll());
  const first = async () => asked((await shelf("waiting", "readonly")).openCursor()).then((c) => c && c.value);
  const put = async (name, entry) => {
    const store = await shelf(name, "readwrite");
    const ended = new Promise((done, failed) => {
      store.transaction.oncomplete = done;
      store.transaction.onabort = () => failed(store.transaction.error);
    });
    const key = await asked(store.put(entry));
    await ended;
    return key;
  };
  const drop = async (name, key) => asked((await shelf(name, "readwrite")).delete(key));

  const show = async () => {
    const n = (await all("waiting")).length;
    badge.hidden = n === 0;
    if (n) badge.textContent = n === 1 ? badge.dataset.one : badge.dataset.many.replace("{n}", n);
    await showRefused();
    await showHeld();
    await showListed();
    return n;
  };
  const said = (entry) => entry.fields.filter(([n, v]) => ["value", "why_not"].includes(n) && v).map(([, v]) => v).join(" ") || entry.fields.filter(([, v]) => typeof v !== "string").map(([, v]) => v.name).join(" ");
  const showHeld = async () => {
    const held = document.getElementById("held");
    if (!held) return;
    const mine = (await all("waiting")).filter((entry) => entry.to === location.pathname);
    held.hidden = !mine.length;
    held.querySelector("strong").textContent = mine.map(said).join(", ");
  };
  // the list of steps knows what waits, and the next question is one that does not
  const showListed = async () => {
    const mine = new Set((await all("waiting")).map((entry) => entry.to));
    for (const link of document.querySelectorAll(".steps a")) {
      const row = link.parentElement, waits = mine.has(link.pathname);
      if (waits === ("waits" in row.dataset)) continue;
      if (waits) row.dataset.waits = badge.dataset.waits; else delete row.dataset.waits;
    }
    const next = document.getElementById("next-question");
    if (!next || !mine.has(next.pathname)) return;
    const open = [...document.querySelectorAll(".steps li.missing a, .steps li.open a")].find((link) => !mine.has(link.pathname));
    if (open) next.href = open.href;
  };
  const showRefused = async () => {
    const box = document.getElementById("refused");
    const list = await all("refused");
    box.hidden = !list.length;
    const pattern = box.querySelector("template").content;
    box.querySelector("ul").replaceChildren(...list.map((entry) => {
      const row = pattern.cloneNode(true);
      row.querySelector("a").href = entry.to;
      row.querySelector("a").textContent = entry.title || entry.to;
      row.querySelector("strong").textContent = said(entry);
      row.querySelector("span").textContent = entry.problem || "";
      row.querySelector("button").addEventListener("click", async () => { await drop("refused", entry.key); show(); });
      return row;
    }));
  };

  // ---- sending -------------------------------------------------------------------
  const hasFile = (entry) => entry.fields.some(([, value]) => typeof value !== "string");
  const reach = (url, options, ms) => {
    const stop = new AbortController();
    const clock = setTimeout(() => stop.abort(), ms);
    return fetch(url, { ...options, signal: stop.signal, headers: { Accept: "application/json" } }).finally(() => clearTimeout(clock));
  };
  const post = (entry) => {
    const body = new FormData();
    for (const [name, value] of entry.fields) body.append(name, value);
    return reach(entry.to, { method: "POST", body }, hasFile(entry) ? FILE_MS : TEXT_MS);
  };
  const tokenNow = async () => (await (await reach("/ping", {}, TEXT_MS)).json()).token;

  // one at a time and in order; taken off the list only when it is in the record
  let sending = null;
  const send = () => (sending ||= sendAll().finally(() => { sending = null; }));
  const sendAll = async () => {
    let told = null, sent = 0;
    for (let entry = await first(), token = ""; entry; entry = await first()) {
      if (!token) token = await tokenNow();
      entry.fields = entry.fields.map(([n, v]) => [n, n === "token" ? token : v]);
      const answer = await post(entry);
      if (answer.status >= 500 || answer.redirected || answer.status === 401) throw new Error("not taken yet");
      const json = (answer.headers.get("content-type") || "").startsWith("application/json");
      told = { entry, ok: answer.ok, ...(json ? await answer.json() : {}) };
      if (!answer.ok) {
        const { key: _, ...copy } = entry;
        await put("refused", { ...copy, problem: told.problem || badge.dataset.refused });
      }
      else for (const old of await all("refused")) if (old.to === entry.to) await drop("refused", old.key);
      await drop("waiting", entry.key);
      sent += 1;
    }
    return { told, sent };
  };
  const untouched = () => ![...document.querySelectorAll("main form.entry input:not([type=hidden]), main textarea")].some((f) => f === document.activeElement ? f.value : f.type === "file" ? f.files.length : f.type !== "checkbox" && f.value !== f.defaultValue);
  const catchUp = async () => {
    if (!(await show())) { if (!away.hidden) await reachAgain(); return; }
    let done = null;
    try { done = await send(); } catch { silent(true); await show(); return; }
    silent(false);
    await show();
    if (!done.sent) return;
    badge.hidden = false;
    badge.textContent = badge.dataset.sent;
    // what came of it is told where the work is now, unless somebody is writing there
    if (done.told.ok && done.told.next && location.pathname.includes("/ladder") && untouched()) {
      const here = new URL(location.href);
      here.search = new URL(done.told.next, location.href).search;
      location.replace(here);
    }
  };
  const reachAgain = async () => {
    try { await reach("/ping", {}, TEXT_MS); silent(false); } catch { silent(true); }
  };

  // ---- forms ---------------------------------------------------------------------
  const two = (x) => String(Math.trunc(Math.abs(x))).padStart(2, "0");
  const local = () => {
    const now = new Date();
    const off = -now.getTimezoneOffset();
    return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}T${two(now.getHours())}:${two(now.getMinutes())}:${two(now.getSeconds())}.${String(now.getMilliseconds()).padStart(3, "0")}${off < 0 ? "-" : "+"}${two(off / 60)}:${two(off % 60)}`;
  };
  const newNonce = () => [...crypto.getRandomValues(new Uint8Array(6))].map((b) => b.toString(16).padStart(2, "0")).join("");
  const entryOf = (form, button) => {
    const set = (name, value) => { const field = form.querySelector(`input[name=${name}]`); if (field) field.value = value; };
    set("entered_at", local());
    set("nonce", newNonce());
    const fields = [...new FormData(form, button).entries()].filter(([, v]) => typeof v === "string" || v.size);
    return { to: location.pathname, title: (document.querySelector("h1") || {}).textContent, next: form.dataset.next || "", fields };
  };

  const slowNote = (form) => {
    if (!form.dataset.slow || form.querySelector(".slow")) return;
    const note = document.createElement("p");
    note.className = "slow";
    note.setAttribute("role", "status");
    note.textContent = form.dataset.slow;
    form.append(note);
  };
  const noSlow = () => document.querySelectorAll(".slow").forEach((node) => node.remove());

  let busy = false;
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!("keep" in form.dataset)) { slowNote(form); return; }
    event.preventDefault();
    if (busy) return;
    busy = true;
    slowNote(form);
    const entry = entryOf(form, event.submitter);
    try { await put("waiting", entry); } catch { form.submit(); return; }
    forgetDraft();
    let done = null;
    try { if (sending) await sending; done = await send(); } catch { /* it waits */ }
    noSlow();
    busy = false;
    if (!done) { await goOnAway(form, entry); return; }
    const { told } = done;
    if (told && told.ok && told.next) { location.assign(told.next); return; }
    if (told && !told.ok && told.entry.to === location.pathname) {
      const mine = (await all("refused")).filter((e) => e.to === entry.to && e.problem === told.problem).pop();
      if (mine) await drop("refused", mine.key);
      tellProblem(form, told.problem || badge.dataset.refused);
    }
    await show();
  });

  // the server does not answer: the next question, as it was when it last did
  const goOnAway = async (form, entry) => {
    silent(true);
    await show();
    if (!entry.next || !navigator.serviceWorker || !navigator.serviceWorker.controller) { form.reset(); away.scrollIntoView(); return; }
    location.assign(entry.next);
  };
  const tellProblem = (form, text) => {
    document.querySelectorAll(".problem.live").forEach((node) => node.remove());
    const note = document.createElement("p");
    note.className = "problem live";
    note.setAttribute("role", "alert");
    note.textContent = text;
    form.before(note);
    note.scrollIntoView({ block: "center" });
    const field = form.querySelector("input:not([type=hidden]), textarea");
    if (field) field.focus({ preventScroll: true });
  };

  // what was typed and not saved yet is there again after a look elsewhere
  const draft = "eavelight.draft " + location.pathname;
  const typed = () => [...document.querySelectorAll("main form.entry input:not([type=hidden]):not([type=file]):not([type=checkbox]), main form.entry textarea")];
  try {
    const before = JSON.parse(sessionStorage.getItem(draft) || "{}");
    for (const f of typed()) if (!f.value && before[f.id]) f.value = before[f.id];
    addEventListener("input", () => sessionStorage.setItem(draft, JSON.stringify(Object.fromEntries(typed().filter((f) => f.value !== f.defaultValue).map((f) => [f.id, f.value])))));
  } catch { /* no storage, no draft */ }
  const forgetDraft = () => { try { sessionStorage.removeItem(draft); } catch { /* none */ } };

  document.querySelectorAll("[data-sign]").forEach((button) => {
    const input = document.getElementById("value");
    button.hidden = false;
    button.addEventListener("click", () => {
      const text = input.value.trim();
      input.value = /^[-−]/.test(text) ? text.slice(1) : "−" + text;
      input.focus();
    });
  });

  document.querySelectorAll("[data-all]").forEach((all) => {
    all.hidden = false;
    all.addEventListener("change", () => document.querySelectorAll(".queue tbody input[type=checkbox]").forEach((one) => { one.checked = all.checked; }));
  });

  // a list that is still growing is asked for again, unless somebody works in it
  if (document.querySelector("[data-again]")) {
    setTimeout(() => { if (!document.querySelector("main :focus, main :checked")) location.reload(); }, 2500);
  }

  // ---- pages for when the server does not answer -----------------------------------
  const worker = navigator.serviceWorker;
  if (worker) {
    worker.register("/keep_worker.js").catch(() => undefined);
    const list = document.querySelector("[data-pages]");
    if (list) worker.ready.then((r) => r.active && r.active.postMessage({ visit: list.dataset.pages, pages: [...new Set([...document.querySelectorAll(".steps a")].map((a) => a.getAttribute("href")))] }));
    document.querySelectorAll("form[data-forget]").forEach((form) => form.addEventListener("submit", () => { if (worker.controller) worker.controller.postMessage({ forget: true }); }));
  }

  // a page that was made a while ago was kept: say so when the server does not answer
  const made = new Date(1000 * Number(away.dataset.made));
  away.querySelector("span").textContent = `${two(made.getHours())}:${two(made.getMinutes())}`;
  if (Math.abs(Date.now() - made) > 30000) reachAgain();
  catchUp();
  setInterval(catchUp, 3000);
  addEventListener("online", catchUp);
})();
