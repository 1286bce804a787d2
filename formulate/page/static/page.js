// Asks for the answer anew while fields change. Everything is worked out by the program behind the page.
"use strict";
const form = document.querySelector("form[data-answer]");
if (form) {
  const answer = document.getElementById("answer");
  const undo = document.getElementById("undo");
  const store = "formulate " + form.dataset.keep;
  const past = [];
  let asked = 0, timer = 0, running = null;

  const state = () => [...form.elements].filter(e => e.name && e.tagName === "INPUT" && e.type !== "hidden")
    .map(e => e.type === "checkbox" ? e.checked : e.value);
  const restore = values => {
    const inputs = [...form.elements].filter(e => e.name && e.tagName === "INPUT" && e.type !== "hidden");
    if (inputs.length !== values.length) return;
    inputs.forEach((e, i) => { if (e.type === "checkbox") e.checked = values[i]; else e.value = values[i]; });
    sliders();
  };
  let current = state();

  const ask = async () => {
    const turn = ++asked;
    if (running) running.abort();
    running = new AbortController();
    answer.classList.add("working");
    try {
      const reply = await fetch(form.dataset.answer, { method: "POST", body: new URLSearchParams(new FormData(form)), signal: running.signal });
      const text = await reply.text();
      if (turn !== asked) return;
      if (reply.ok) answer.innerHTML = text;
      else answer.textContent = "The program did not answer as expected. What you typed is kept; try again.";
    } catch (error) {
      if (error.name !== "AbortError") answer.textContent = "The program behind this page is not running. What you typed is kept: start it again and reload.";
      else return;
    }
    answer.classList.remove("working");
  };
  const changed = (soon) => {
    const now = state();
    if (JSON.stringify(now) === JSON.stringify(current)) return;
    past.push(current);
    current = now;
    undo.hidden = false;
    try { sessionStorage.setItem(store, JSON.stringify(now)); } catch (error) { /* kept for this visit only */ }
    clearTimeout(timer);
    timer = setTimeout(ask, soon);
  };

  const figure = /\d+(\.\d+)?/g;
  const sliders = () => document.querySelectorAll("input[type=range][data-for]").forEach(range => {
    const field = document.getElementById(range.dataset.for);
    const figures = field.value.split("±")[0].match(figure);
    range.hidden = !figures || /like|same/.test(field.value);
    if (range.hidden) return;
    const first = parseFloat(figures[0]);
    if (range.dataset.of !== "hand") {
      range.min = 0;
      range.max = first > 0 ? 2 * first : 10;
      range.step = first >= 100 ? 1 : first >= 10 ? 0.1 : 0.01;
    }
    range.value = first;
  });
  document.querySelectorAll("input[type=range][data-for]").forEach(range => range.addEventListener("input", () => {
    const field = document.getElementById(range.dataset.for);
    const [head, ...rest] = field.value.split("±");
    const digits = (range.step.split(".")[1] || "").length;
    const by = parseFloat(range.value) - parseFloat(head.match(figure)[0]);
    field.value = [head.replace(figure, one => Math.max(0, parseFloat(one) + by).toFixed(digits)), ...rest].join("±");
    changed(0);
  }));

  form.addEventListener("input", event => { if (event.target.type !== "range") changed(350); });
  undo.addEventListener("click", () => {
    if (!past.length) return;
    restore(past.pop());
    current = state();
    undo.hidden = !past.length;
    try { sessionStorage.setItem(store, JSON.stringify(current)); } catch (error) { /* kept for this visit only */ }
    ask();
  });
  answer.addEventListener("click", event => {
    const button = event.target.closest("button[name=apply]");
    if (!button) return;
    event.preventDefault();
    for (const [name, text] of Object.entries(JSON.parse(button.value))) {
      const field = form.elements[name];
      if (!field) continue;
      if (field.type === "checkbox") field.checked = true; else field.value = text;
    }
    sliders();
    changed(0);
  });
  form.addEventListener("submit", () => { try { sessionStorage.removeItem(store); } catch (error) { /* nothing kept */ } });

  sliders();
  try {
    const kept = JSON.parse(sessionStorage.getItem(store) || "null");
    if (kept && JSON.stringify(kept) !== JSON.stringify(current)) { restore(kept); current = state(); ask(); }
  } catch (error) { /* nothing kept */ }
}
