// The entry grid of a run: keys, checks while typing, running statistics, and nothing lost on reload.
// Everything it knows (bounds, limits, pairs, keys) stands in data- attributes that the server wrote.
"use strict";
(() => {
  const NUMBER = /^[+\-−]?(\d{1,9}([.,]\d{1,9})?|[.,]\d{1,9})$/;
  const MEASURED = "measured", NOT_MOVED = "not_moved", LOST = "lost";
  let form = null;
  let last = null; // the cell that the mark buttons act on

  const all = (selector, within = form) => [...within.querySelectorAll(selector)];
  const inputs = () => all("input.value");
  const cellOf = (input) => input.closest("td.cell");
  const rowOf = (input) => input.closest("tr");
  const part = (input, name) => cellOf(input).querySelector(name);
  const qualifier = (input) => part(input, "select.qualifier").value;
  const number = (input) => {
    const text = input.value.trim();
    return NUMBER.test(text) ? Number(text.replace("−", "-").replace(",", ".")) : null;
  };
  const joined = (unit) => (unit === "" || unit === "°" ? unit : " " + unit);

  // ---- marks -----------------------------------------------------------------------------------------------
  function offered(input, key) {
    return all("option", cellOf(input)).some((option) => option.value === key);
  }

  function setQualifier(input, key) {
    part(input, "select.qualifier").value = key;
    show(input);
  }

  function mark(input, key) {
    if (!offered(input, key)) return false;
    const same = qualifier(input) === key;
    input.value = "";
    setQualifier(input, same ? MEASURED : key);
    changed(input);
    if (!same && key === LOST) part(input, "input.reason").focus();
    return !same;
  }

  function show(input) {
    const key = qualifier(input);
    const words = part(input, "select.qualifier").selectedOptions[0];
    cellOf(input).dataset.qualifier = key;
    const limit = input.dataset.limit ? `> ${Number(input.dataset.limit)}${joined(input.dataset.unit)}, ` : "";
    input.placeholder = key === MEASURED ? "" : key === NOT_MOVED ? limit + "not moved" : words ? words.textContent : "";
    part(input, "input.reason").hidden = key !== LOST;
  }

  // ---- checks while typing ----------------------------------------------------------------------------------
  function problemOf(input) {
    const text = input.value.trim(), data = input.dataset, key = qualifier(input);
    if (key === LOST) return part(input, "input.reason").value.trim() ? "" : "say why it was lost";
    if (key !== MEASURED || text === "") return "";
    const value = number(input);
    if (value === null) return "not a plain number";
    const low = data.low === undefined ? -Infinity : Number(data.low);
    const high = data.high === undefined ? Infinity : Number(data.high);
    if (value < low || value > high) {
      return high === Infinity ? `below ${low}${joined(data.unit)}` : `outside ${low} to ${high}${joined(data.unit)}`;
    }
    if (data.limit !== undefined && value > Number(data.limit)) return `beyond the stage limit of ${Number(data.limit)}${joined(data.unit)}`;
    return crossed(input, value) ? "receding above advancing" : "";
  }

  function pairOf(row) {
    if (!form.dataset.pairHigh) return null;
    const find = (quantity) => row.querySelector(`input.value[data-quantity="${quantity}"]`);
    return { high: find(form.dataset.pairHigh), low: find(form.dataset.pairLow) };
  }

  function measured(input) {
    return input && qualifier(input) === MEASURED ? number(input) : null;
  }

  function crossed(input, value) {
    const pair = pairOf(rowOf(input));
    if (!pair || input !== pair.low) return false;
    const high = measured(pair.high);
    return high !== null && value > high;
  }

  function check(row) {
    for (const input of all("input.value", row)) {
      const text = problemOf(input);
      part(input, ".problem").textContent = text;
      cellOf(input).classList.toggle("wrong", text !== "");
      input.setAttribute("aria-invalid", text !== "");
    }
    const pair = pairOf(row), output = row.querySelector("output");
    if (!pair || !output) return;
    const high = measured(pair.high), low = measured(pair.low);
    const both = high !== null && low !== null;
    output.textContent = both ? (high - low).toFixed(Number(output.dataset.decimals)) : "";
    output.dataset.value = both && high >= low && !row.querySelector(".wrong") ? high - low : "";
  }

  // ---- running statistics -------------------------------------------------------------------------------------
  function drops(quantity) {
    // A drop that did not move ranks above all others, one that moved on placing is at 0; what is marked wrong waits.
    if (form.dataset.pairHigh && !inputs().some((input) => input.dataset.quantity === quantity)) {
      return all("tbody output").filter((o) => o.dataset.value !== undefined && o.dataset.value !== "" && !o.closest("tr").querySelector("[data-excluded]"))
        .map((output) => Number(output.dataset.value));
    }
    const found = [];
    for (const input of inputs()) {
      if (input.dataset.quantity !== quantity || cellOf(input).matches(".wrong, [data-excluded]")) continue;
      const key = qualifier(input), value = number(input);
      if (key === NOT_MOVED) found.push(Infinity);
      else if (key === MEASURED && value !== null) found.push(value);
      else if (key !== MEASURED && key !== LOST) found.push(0);
    }
    return found;
  }

  function median(values) {
    const sorted = [...values].sort((a, b) => a - b);
    const low = sorted[Math.floor((sorted.length - 1) / 2)], high = sorted[Math.floor(sorted.length / 2)];
    return (low + high) / 2;
  }

  function sum(section) {
    const values = drops(section.dataset.sum), n = values.length;
    const decimals = Number(section.dataset.decimals), unit = joined(section.dataset.unit);
    const stuck = values.filter((value) => value === Infinity).length;
    const mean = values.reduce((a, b) => a + b, 0) / n;
    const sd = Math.sqrt(values.reduce((a, b) => a + (b - mean) ** 2, 0) / (n - 1));
    const out = (name, text) => { const at = section.querySelector(`[data-out="${name}"]`); if (at) at.textContent = text; };
    const text = (value, more = 0) => value.toFixed(decimals + more) + unit;
    out("n", String(n));
    out("mean", n === 0 ? "–" : stuck ? "not given" : text(mean, 1));
    out("sd", n < 2 ? "–" : stuck ? "not given" : text(sd, 1));
    out("median", n === 0 ? "–" : median(values) === Infinity ? "beyond the limit" : text(median(values)));
    out("stuck", `${stuck} of ${n}`);
  }

  const summary = () => all("[data-sum]").forEach(sum);

  // ---- a stored reading is changed: why? -------------------------------------------------------------------------
  const NOTHING = `${MEASURED}||`; // what an empty cell says
  const corrects = () => inputs().some((input) => was(input) !== NOTHING && said(input) !== was(input));
  const why = () => form.querySelector("#why");

  function ask() {
    const block = form.querySelector("#correction");
    if (block) block.hidden = !corrects();
  }

  // ---- moving about --------------------------------------------------------------------------------------------
  function go(input, step) {
    const cells = inputs(), at = cells.indexOf(input) + step;
    if (at < 0) return;
    const target = at < cells.length ? cells[at] : why() && corrects() && !why().value.trim() ? why() : form.querySelector("#save");
    target.focus();
    if (target.select) target.select();
  }

  function goRow(input, step) {
    const same = inputs().filter((other) => other.dataset.quantity === input.dataset.quantity);
    const target = same[same.indexOf(input) + step];
    if (target) { target.focus(); target.select(); }
  }

  function atEdge(input, step) {
    const all = input.selectionStart === 0 && input.selectionEnd === input.value.length;
    return all || (input.selectionStart === input.selectionEnd && input.selectionStart === (step < 0 ? 0 : input.value.length));
  }

  function onKey(event) {
    const input = event.target;
    if (!form || !form.contains(input) || event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (event.key === "Enter" && input.matches("input.value, input.reason, input.place")) {
      event.preventDefault();
      go(input.matches(".value") ? input : valueOf(input), event.shiftKey ? -1 : input.matches(".place") ? 0 : 1);
      return;
    }
    if (event.key === "Enter" && input === why()) { event.preventDefault(); form.querySelector("#save").focus(); return; }
    if (!input.matches("input.value")) return;
    const move = { ArrowUp: () => goRow(input, -1), ArrowDown: () => goRow(input, 1) }[event.key];
    if (move) { event.preventDefault(); move(); return; }
    const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (step && atEdge(input, step)) { event.preventDefault(); if (inputs()[inputs().indexOf(input) + step]) go(input, step); return; }
    const button = event.key.length === 1 && form.querySelector(`button[data-key="${event.key.toLowerCase()}"]`);
    if (button) { event.preventDefault(); mark(input, button.dataset.mark); return; }
    if (qualifier(input) !== MEASURED && (event.key.length === 1 || event.key === "Backspace" || event.key === "Delete")) setQualifier(input, MEASURED);
  }

  const valueOf = (input) => (input.closest("td.cell") || input.closest("tr")).querySelector("input.value");

  // ---- rows ----------------------------------------------------------------------------------------------------
  function addRow(position, drop, direction) {
    const index = all("tbody tr").length;
    const row = form.querySelector("#row-template").content.firstElementChild.cloneNode(true);
    row.dataset.row = index;
    for (const element of [row, ...row.querySelectorAll("*")]) {
      for (const name of ["id", "name", "aria-describedby", "aria-label"]) {
        if (element.hasAttribute(name)) element.setAttribute(name, element.getAttribute(name).replace("BLANK", index).replace("POSITION", position).replace("DROP", drop));
      }
    }
    row.querySelector('[name="row"]').value = index;
    const set = (name, value) => { row.querySelector(`[name="${name}-${index}"]`).value = value; };
    set("position", position); set("drop", drop); set("direction", direction || "");
    form.querySelector("tbody").append(row);
    all("input.value", row).forEach(show);
    return row;
  }

  function addRows() {
    const field = (name) => form.querySelector(`[name="more-${name}"]`).value.trim();
    const positions = all('[name^="position-"]', form.querySelector("tbody")).map((input) => parseInt(input.value, 10)).filter(Number.isFinite);
    const first = Math.max(0, ...positions) + 1;
    const count = Math.min(100, parseInt(field("positions"), 10) || 1), drops = Math.min(20, parseInt(field("drops"), 10) || 1);
    let opened = null;
    for (let p = first; p < first + count; p += 1) {
      for (let d = 1; d <= drops; d += 1) opened = addRow(p, d, field("direction")) && (opened || form.querySelector("tbody").lastElementChild);
    }
    keep();
    opened.querySelector("input.value").focus();
  }

  // ---- nothing lost on reload ----------------------------------------------------------------------------------
  const keyFor = (version) => `${form.dataset.store}:${version}`;
  const placeOf = (row) => ["position", "drop", "direction"].map((name) => row.querySelector(`[name^="${name}-"]`).value).join("|");
  const said = (input) => `${qualifier(input)}|${input.value.trim()}|${part(input, "input.reason").value.trim()}`;
  const was = (input) => part(input, '[name^="was-"]').value;

  function keep() {
    const kept = {};
    for (const input of inputs()) {
      if (said(input) === was(input)) continue;
      kept[`${placeOf(rowOf(input))}|${input.dataset.quantity}`] = [input.value, qualifier(input), part(input, "input.reason").value];
    }
    try {
      if (Object.keys(kept).length) localStorage.setItem(keyFor(form.dataset.version), JSON.stringify({ at: new Date().toISOString(), kept, why: why() ? why().value : "" }));
      else localStorage.removeItem(keyFor(form.dataset.version));
    } catch (error) { /* storage is full or switched off: the form itself still holds what was typed */ }
  }

  function mine() {
    const names = [];
    for (let i = 0; i < localStorage.length; i += 1) {
      if (localStorage.key(i).startsWith(`${form.dataset.store}:`)) names.push(localStorage.key(i));
    }
    return names;
  }

  function restore() {
    let names = [];
    try {
      if (form.dataset.saved) localStorage.removeItem(keyFor(form.dataset.saved));
      names = mine();
    } catch (error) { return; }
    if (form.dataset.refused) { names.forEach((name) => localStorage.removeItem(name)); keep(); return; }
    let count = 0, at = "", older = false;
    for (const name of names) {
      const entry = JSON.parse(localStorage.getItem(name));
      count += putBack(entry.kept);
      if (why() && entry.why) why().value = entry.why;
      at = entry.at;
      older = older || name !== keyFor(form.dataset.version);
      localStorage.removeItem(name);
    }
    if (!count) return;
    keep();
    tell(count, at, older);
  }

  function putBack(kept) {
    let count = 0;
    for (const [key, [value, mark, reason]] of Object.entries(kept)) {
      const [position, drop, direction, quantity] = key.split("|");
      const place = [position, drop, direction].join("|");
      const row = all("tbody tr").find((other) => placeOf(other) === place) || addRow(position, drop, direction);
      const input = row.querySelector(`input.value[data-quantity="${quantity}"]`);
      if (!input || said(input) === `${mark}|${value.trim()}|${reason.trim()}`) continue;
      input.value = value;
      part(input, "input.reason").value = reason;
      setQualifier(input, mark);
      count += 1;
    }
    return count;
  }

  function tell(count, at, older) {
    const note = form.querySelector(".restored");
    const when = new Date(at).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
    note.textContent = `Put back: ${count} ${count === 1 ? "entry" : "entries"} typed here at ${when} and not saved yet. ` +
      (older ? "The run was saved in between; look at each before you save. " : "");
    const button = document.createElement("button");
    Object.assign(button, { type: "button", className: "quiet", textContent: "Throw these away" });
    button.addEventListener("click", () => { localStorage.removeItem(keyFor(form.dataset.version)); location.reload(); });
    note.append(button);
    note.hidden = false;
    const fold = form.closest("details");
    if (fold) fold.open = true;
  }

  // ---- events --------------------------------------------------------------------------------------------------
  function changed(input) {
    check(rowOf(input));
    summary();
    ask();
    keep();
  }

  function onInput(event) {
    if (!form || !form.contains(event.target)) return;
    const input = event.target;
    if (input.matches("input.value") && input.value && qualifier(input) !== MEASURED) setQualifier(input, MEASURED);
    if (input.matches("input.value, input.reason, input.place")) changed(valueOf(input));
    if (input === why()) keep();
  }

  function onPaste(event) {
    // A column or block copied from a spreadsheet fills the cells below and to the right.
    const input = event.target;
    const lines = (event.clipboardData.getData("text") || "").replace(/\r/g, "").replace(/\n$/, "").split("\n").map((line) => line.split("\t"));
    if (!form || !form.contains(input) || !input.matches("input.value") || (lines.length < 2 && lines[0].length < 2)) return;
    event.preventDefault();
    const rows = all("tbody tr"), first = rows.indexOf(rowOf(input)), column = all("input.value", rowOf(input)).indexOf(input);
    lines.forEach((cells, down) => cells.forEach((text, right) => {
      const target = rows[first + down] && all("input.value", rows[first + down])[column + right];
      if (!target) return;
      target.value = text.trim();
      setQualifier(target, MEASURED);
      changed(target);
    }));
  }

  function onClick(event) {
    const button = event.target.closest("button");
    if (!button || !form || !form.contains(button)) return;
    if (button.name === "more") { event.preventDefault(); addRows(); return; }
    const target = last && form.contains(last) ? last : inputs()[0];
    if (button.dataset.mark) {
      const isMarked = mark(target, button.dataset.mark);
      if (isMarked && button.dataset.mark !== LOST) go(target, 1);
    } else if (button.dataset.move) go(target, 1);
  }

  function open() {
    form = document.querySelector("#entry");
    if (!form) return;
    document.documentElement.classList.add("scripted"); // not on the form: a swap puts its own attributes back
    all("[data-mark], [data-move], .running").forEach((element) => { element.hidden = false; });
    inputs().forEach(show);
    restore();
    all("tbody tr").forEach(check);
    summary();
    ask();
    last = null;
    if (form.dataset.refused === "ReasonMissing" && why()) why().focus();
  }

  document.addEventListener("keydown", onKey);
  document.addEventListener("input", onInput);
  document.addEventListener("paste", onPaste);
  document.addEventListener("click", onClick);
  document.addEventListener("focusin", (event) => { if (form && form.contains(event.target) && event.target.matches("input.value")) last = event.target; });
  // A refusal (400, 409) brings the page with what was typed: it is shown like any other answer.
  document.addEventListener("htmx:beforeSwap", (event) => {
    if (event.detail.target.id === "run" && event.detail.xhr.status < 500) { event.detail.shouldSwap = true; event.detail.isError = false; }
  });
  document.addEventListener("htmx:afterSwap", (event) => { if (event.detail.target.id === "run") open(); });

  function start() {
    open();
    // Straight to the first empty cell, where that does not open a keyboard over the page.
    const empty = form && !form.closest("details") && inputs().find((input) => said(input) === was(input) && !input.value);
    if (empty && matchMedia("(hover: hover)").matches) empty.focus({ preventScroll: true });
  }
  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", start);
  else start();
})();
