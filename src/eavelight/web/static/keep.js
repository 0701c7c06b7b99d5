// Keeps what was entered until the server has taken it. Forms work without this.
"use strict";
(() => {
  const KEY = "eavelight.waiting";
  const badge = document.getElementById("waiting");

  const read = () => {
    try { return JSON.parse(localStorage.getItem(KEY) || "[]"); } catch { return []; }
  };
  const write = (list) => {
    try { localStorage.setItem(KEY, JSON.stringify(list)); return true; } catch { return false; }
  };
  const nonceOf = (entry) => (entry.fields.find(([name]) => name === "nonce") || ["", ""])[1];
  const drop = (entry) => write(read().filter((other) => nonceOf(other) !== nonceOf(entry)));
  const show = () => {
    const n = read().length;
    badge.hidden = n === 0;
    if (n) badge.textContent = n === 1 ? badge.dataset.one : badge.dataset.many.replace("{n}", n);
  };

  const local = () => {
    const now = new Date();
    const two = (x) => String(Math.trunc(Math.abs(x))).padStart(2, "0");
    const off = -now.getTimezoneOffset();
    return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}T${two(now.getHours())}:${two(now.getMinutes())}:${two(now.getSeconds())}${off < 0 ? "-" : "+"}${two(off / 60)}:${two(off % 60)}`;
  };

  const post = (entry) => {
    const body = new FormData();
    for (const [name, value] of entry.fields) body.append(name, value);
    return fetch(entry.to, { method: "POST", body, headers: { Accept: "application/json" } });
  };

  let sending = false;
  const send = async () => {
    if (sending || !read().length) { show(); return; }
    sending = true;
    try {
      let next = "";
      const ping = await fetch("/ping", { headers: { Accept: "application/json" } });
      const { token } = await ping.json();
      // one at a time and in order; taken off the list only when it is in the record
      for (let entry = read()[0]; entry; entry = read()[0]) {
        entry.fields = entry.fields.map(([n, v]) => [n, n === "token" ? token : v]);
        const answer = await post(entry);
        if (answer.status >= 500) break;
        if (answer.status === 422) {
          const told = await answer.json();
          entry.problem = told.problem;
          keepRefused(entry);
        }
        drop(entry);
        if (answer.ok && entry.to === location.pathname) next = (await answer.json()).next;
      }
      if (next && !read().length) { location.assign(next); return; }
      if (!read().length) {
        badge.hidden = false;
        badge.textContent = badge.dataset.sent;
      } else show();
    } catch { show(); } finally { sending = false; }
  };
  const keepRefused = (entry) => {
    try {
      const list = JSON.parse(localStorage.getItem(KEY + ".refused") || "[]");
      localStorage.setItem(KEY + ".refused", JSON.stringify([...list, entry]));
    } catch { /* the entry was shown to be wrong already */ }
  };

  const fieldsOf = (form, button) => {
    const data = new FormData(form, button);
    return [...data.entries()].filter(([, value]) => typeof value === "string");
  };

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    const slow = form.dataset.slow;
    if (slow) {
      const note = document.createElement("p");
      note.className = "slow";
      note.setAttribute("role", "status");
      note.textContent = slow;
      form.append(note);
    }
    if (!("keep" in form.dataset)) return;
    const file = form.querySelector("input[type=file]");
    if (file && file.files.length && !(event.submitter && event.submitter.value)) return;
    event.preventDefault();
    const stamp = form.querySelector("input[name=entered_at]");
    if (stamp) stamp.value = local();
    const entry = { to: location.pathname, fields: fieldsOf(form, event.submitter) };
    write([...read(), entry]);
    show();
    if (read().length > 1) { await send(); return; }
    try {
      const answer = await post(entry);
      if (answer.status >= 500) throw new Error("server");
      drop(entry);
      show();
      const told = await answer.json();
      if (told.ok) { location.assign(told.next); return; }
      tellProblem(form, told.problem);
    } catch { show(); waitHere(form); }
  });

  const tellProblem = (form, text) => {
    document.querySelectorAll(".problem.live, .slow").forEach((node) => node.remove());
    const note = document.createElement("p");
    note.className = "problem live";
    note.setAttribute("role", "alert");
    note.textContent = text;
    form.before(note);
    const field = form.querySelector("input:not([type=hidden]), textarea");
    if (field) field.focus();
  };
  const waitHere = (form) => {
    form.querySelectorAll("button").forEach((node) => { node.disabled = false; });
  };

  document.querySelectorAll("[data-sign]").forEach((button) => {
    const input = document.getElementById("value");
    button.hidden = false;
    button.addEventListener("click", () => {
      const text = input.value.trim();
      input.value = /^[-−]/.test(text) ? text.slice(1) : "−" + text;
      input.focus();
    });
  });

  // a list that is still growing is asked for again, unless somebody works in it
  if (document.querySelector("[data-again]")) {
    setTimeout(() => { if (!document.querySelector("main :focus, main :checked")) location.reload(); }, 2500);
  }
  show();
  send().then(() => undefined);
  setInterval(send, 3000);
  addEventListener("online", send);
})();
