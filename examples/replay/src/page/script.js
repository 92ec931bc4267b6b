"use strict";
// What the page can do besides being read: a moment's numbers and waveforms, and what-ifs from the numbers in it.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  document.documentElement.classList.add("js");
  const at = (id) => document.getElementById(id);
  const svg = (name, attributes, parent) => {
    const node = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
    return parent.appendChild(node);
  };
  // As many decimals as make sense, and no zero with a sign.
  const text = (value, places) => value.toFixed(places).replace(/^-(0(\.0*)?)$/, "$1");
  const show = (id) => (at(id).closest(".try").hidden = false);

  // A level on its figures, and what it would mean.
  const tries = (id, list, lines, words) => {
    const slider = at("try-" + id);
    if (!slider || !list.length) return;
    const most = list[list.length - 1].at;
    const tell = () => {
      const level = list[slider.value];
      for (const line of document.querySelectorAll(lines)) {
        const x = (100 * level.at) / (most || 1) + "%";
        line.setAttribute("x1", x);
        line.setAttribute("x2", x);
      }
      at("said-" + id).textContent = words(level);
    };
    show("try-" + id);
    slider.addEventListener("input", tell);
    tell();
  };
  tries("threshold", data.thresholds, ".tried.threshold", (l) =>
    `${l.at.toFixed(2)} L/min: ${l.cycled.toFixed(0)} % of breaths self-cycle; efforts missed: ` +
    (l.missed ? `${l.missed[0].toFixed(0)} to ${l.missed[1].toFixed(0)} %` : "not known"));
  tries("level", data.levels, ".tried.level", (l) =>
    `${l.at.toFixed(1)} mL: ${l.rings.toFixed(1)} rings an hour, ringing ${l.ringing.toFixed(0)} % of the time; ` +
    `${l.under.toFixed(0)} % of breaths under it`);
  tries("target", data.targets, ".tried.target", (t) =>
    `${t.told}: a peak of ${t.peak[1].toFixed(1)} cmH2O (${t.peak[0].toFixed(1)} to ${t.peak[2].toFixed(1)})` +
    (t.above === null ? "" : `; ${t.above.toFixed(0)} % of inflations need more than ${data.bar}`) +
    `; ${t.under.toFixed(0)} % move less now`);

  // A moment: its numbers, a line through all rows, the ten seconds kept of its minute.
  const plots = [...document.querySelectorAll(".time svg.plot[role=img]")];
  const cursors = plots.map((plot) =>
    svg("line", { class: "cursor", x1: 0, x2: 0, y1: 0, y2: plot.getAttribute("height"), visibility: "hidden" }, plot));
  const bytes = (coded) => (coded ? Uint8Array.from(atob(coded.bytes), (c) => c.charCodeAt(0)) : new Uint8Array());
  const kept = data.windows;
  let flow, pressure;
  const draw = (seconds) => {
    if (!kept.from.length) return;
    flow = flow || bytes(kept.flow);
    pressure = pressure || bytes(kept.pressure);
    let near = 0;
    kept.from.forEach((from, i) => {
      if (Math.abs(from - seconds) < Math.abs(kept.from[near] - seconds)) near = i;
    });
    const place = at("waves").querySelector("svg");
    place.replaceChildren();
    const curve = (all, top, high) => {
      let path = "";
      let open = false;
      for (let i = 0; i < kept.readings; i += 1) {
        const value = all[near * kept.readings + i];
        if (value) path += (open ? "L" : "M") + ((1000 * i) / kept.readings).toFixed(1) + " " + (top + high * (1 - (value - 1) / 254)).toFixed(1);
        open = Boolean(value);
      }
      return path;
    };
    const box = svg("svg", { viewBox: "0 0 1000 150", width: "100%", height: 150, preserveAspectRatio: "none" }, place);
    svg("path", { class: "wave", d: curve(flow, 24, 72) }, box);
    svg("path", { class: "wave", d: curve(pressure, 102, 46) }, box);
    let last = -9;
    let lower = false;
    for (const [offset, name] of kept.breaths[near]) {
      const x = (100 * offset) / kept.long + "%";
      lower = offset - last < 1.6 && !lower;
      last = offset;
      svg("line", { class: "onset", x1: x, x2: x, y1: 24, y2: 150 }, place);
      svg("text", { class: "name", x, y: lower ? 22 : 10 }, place).textContent = name;
    }
    at("said-waves").textContent =
      `Ten seconds from ${kept.times[near]}: flow (${kept.flow.low.toFixed(0)} to ${kept.flow.high.toFixed(0)} mL/s) ` +
      `over pressure (${kept.pressure.low.toFixed(0)} to ${kept.pressure.high.toFixed(0)} cmH2O), breaths by what began them`;
    at("waves").hidden = false;
  };
  const moment = at("moment");
  const tell = (waves) => {
    const bin = Number(moment.value);
    const seconds = Math.min((bin + 0.5) * data.bin, data.end);
    for (const cursor of cursors) {
      cursor.setAttribute("x1", (100 * seconds) / data.end + "%");
      cursor.setAttribute("x2", (100 * seconds) / data.end + "%");
      cursor.setAttribute("visibility", "visible");
    }
    const told = data.lines
      .filter((line) => line.values[bin] !== null && line.values[bin] !== undefined)
      .map((line) => `${line.name} ${text(line.values[bin], line.places)} ${line.unit}`);
    at("said-moment").textContent = `${data.times[bin]}: ` + (told.join("; ") || "nothing known");
    if (waves) draw(seconds);
  };
  if (plots.length && data.end > 0) {
    show("moment");
    moment.value = moment.max;
    tell(false);
    moment.addEventListener("input", () => tell(true));
    const point = (waves) => (event) => {
      const box = event.currentTarget.getBoundingClientRect();
      const share = Math.min(Math.max((event.clientX - box.left) / box.width, 0), 1);
      moment.value = Math.min(Math.floor((share * data.end) / data.bin), Number(moment.max));
      tell(waves);
    };
    for (const plot of plots) {
      plot.addEventListener("pointermove", point(false));
      plot.addEventListener("click", point(true));
    }
  }
})();
