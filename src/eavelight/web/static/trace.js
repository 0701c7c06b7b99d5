// The trace viewer: zoom, move, lay over, read; by keyboard, button or pointer.
"use strict";
(() => {
  const viewer = document.getElementById("viewer");
  if (!viewer || typeof uPlot === "undefined") return;
  const box = document.getElementById("chart");
  const said = document.getElementById("reading");
  const COLOURS = ["#00509D", "#000", "#B34700", "#000", "#B34700"];
  const DASHES = [[], [10, 6], [3, 5], [14, 4, 3, 4], [2, 2]];
  let main = null, laid = [], chart = null, view = null, at = -1;

  const near = (list, x) => {
    let low = 0, high = list.length - 1;
    while (high - low > 1) { const mid = (low + high) >> 1; if (list[mid] > x) high = mid; else low = mid; }
    return low;
  };
  const laidOn = (trace) => main.metres.map((x) => {
    const k = near(trace.metres, x);
    const step = trace.metres.length > 1 ? trace.metres[1] - trace.metres[0] : 1;
    return Math.abs(trace.metres[k] - x) <= 2 * step ? trace.decibel[k] : null;
  });
  const events = (u) => {
    const ctx = u.ctx;
    ctx.save();
    ctx.fillStyle = "#000"; ctx.strokeStyle = "#000";
    ctx.font = `bold ${14 * devicePixelRatio}px system-ui, sans-serif`;
    let last = -Infinity, row = 0;
    for (const e of main.events) {
      const x = u.valToPos(e.position_m, "x", true);
      if (x < u.bbox.left || x > u.bbox.left + u.bbox.width) continue;
      const half = Math.abs(u.valToPos(e.position_m + 2 * e.position_u_m, "x", true) - x);
      ctx.globalAlpha = 0.08;
      ctx.fillRect(x - half, u.bbox.top, 2 * half, u.bbox.height);
      ctx.globalAlpha = 1;
      ctx.beginPath(); ctx.moveTo(x, u.bbox.top);
      ctx.lineTo(x, u.bbox.top + 48 * devicePixelRatio); ctx.stroke();
      row = x - last < 14 * devicePixelRatio ? (row + 1) % 3 : 0;
      last = x;
      ctx.fillText(String(e.number), x + 3 * devicePixelRatio, u.bbox.top + (14 + 16 * row) * devicePixelRatio);
    }
    ctx.restore();
  };
  // each line carries its name where it leaves the picture
  const names = (u) => {
    const ctx = u.ctx, dpr = devicePixelRatio, taken = [];
    ctx.save();
    ctx.font = `bold ${14 * dpr}px system-ui, sans-serif`;
    ctx.textAlign = "right";
    [main, ...laid].forEach((trace, k) => {
      const data = u.data[k + 1];
      let last = near(u.data[0], u.scales.x.max);
      while (last > 0 && data[last] === null) last -= 1;
      let y = Math.max(u.bbox.top + 16 * dpr, u.valToPos(data[last] ?? 0, "y", true) - 10 * dpr);
      while (taken.some((other) => Math.abs(other - y) < 18 * dpr)) y -= 18 * dpr;
      taken.push(y);
      ctx.fillStyle = COLOURS[k % COLOURS.length];
      ctx.fillText(trace.label, u.bbox.left + u.bbox.width - 6 * dpr, y);
    });
    ctx.restore();
  };
  const draw = () => {
    if (chart) chart.destroy();
    const series = [{ label: viewer.dataset.metres }];
    const data = [main.metres];
    [main, ...laid].forEach((trace, k) => {
      data.push(k ? laidOn(trace) : trace.decibel);
      series.push({ label: trace.label, stroke: COLOURS[k % COLOURS.length], width: 1.5, dash: DASHES[k % 5], points: { show: false } });
    });
    const axis = (label) => ({ label, stroke: "#000", grid: { stroke: "rgba(0,0,0,.2)", width: 1 }, ticks: { stroke: "#000" }, font: "14px system-ui, sans-serif", labelFont: "14px system-ui, sans-serif" });
    chart = new uPlot({
      width: box.clientWidth, height: Math.max(240, Math.min(420, innerHeight * 0.42)),
      scales: { x: { time: false }, y: {} },
      axes: [axis(viewer.dataset.metres), axis(viewer.dataset.decibel)],
      series, cursor: { drag: { x: true, y: false } }, hooks: { draw: [events, names] },
    }, data, box);
    if (view) chart.setScale("x", view);
  };
  const ends = () => [main.metres[0], main.metres[main.metres.length - 1]];
  const span = () => view || { min: ends()[0], max: ends()[1] };
  const go = (min, max) => {
    const [first, last] = ends();
    const wide = Math.min(max - min, last - first);
    const from = Math.max(first, Math.min(min, last - wide));
    view = { min: from, max: from + wide };
    chart.setScale("x", view);
  };
  const acts = {
    in: () => { const s = span(), m = (s.min + s.max) / 2, h = (s.max - s.min) / 4; go(m - h, m + h); },
    out: () => { const s = span(), m = (s.min + s.max) / 2, h = s.max - s.min; go(m - h, m + h); },
    left: () => { const s = span(), d = (s.max - s.min) / 5; go(s.min - d, s.max - d); },
    right: () => { const s = span(), d = (s.max - s.min) / 5; go(s.min + d, s.max + d); },
    all: () => { view = null; chart.setScale("x", { min: ends()[0], max: ends()[1] }); },
    event: () => {
      if (!main.events.length) return;
      at = (at + 1) % main.events.length;
      const e = main.events[at], s = span(), h = Math.min((s.max - s.min) / 2, 15);
      go(e.position_m - h, e.position_m + h);
      const loss = e.loss_db === null ? "" : ` · ${e.loss_db.toFixed(2)} dB`;
      said.textContent = `${e.number}: ${e.position_m.toFixed(1)} ± ${(2 * e.position_u_m).toFixed(1)} m${loss}`;
    },
  };
  const KEYS = { "+": "in", "=": "in", "-": "out", ArrowLeft: "left", ArrowRight: "right", "0": "all", n: "event", N: "event" };
  box.addEventListener("keydown", (event) => {
    const act = KEYS[event.key];
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    acts[act]();
  });
  viewer.querySelectorAll("[data-do]").forEach((b) => b.addEventListener("click", () => acts[b.dataset.do]()));
  const load = async (url, name) => {
    const trace = await (await fetch(url)).json();
    trace.label = `${name ? name + " · " : ""}${trace.wavelength_nm} nm`;
    return trace;
  };
  viewer.querySelectorAll("[data-overlay]").forEach((tick) => tick.addEventListener("change", async () => {
    const url = tick.dataset.overlay;
    if (tick.checked) { const t = await load(url, tick.dataset.baseline); t.url = url; laid.push(t); }
    else laid = laid.filter((t) => t.url !== url);
    draw();
  }));
  addEventListener("resize", () => { if (chart) draw(); });
  load(viewer.dataset.main).then((trace) => {
    main = trace;
    viewer.hidden = false;
    document.getElementById("drawn").hidden = true;
    draw();
  });
})();
