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
    if (form.dataset.waits) answer.classList.add("working"); else timer = setTimeout(ask, soon);
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
  // A plan takes a while: it is looked at as it goes on, and can be stopped.
  const planned = async (address, init) => {
    const turn = ++asked;
    answer.classList.add("working");
    let wait = true;
    while (wait && turn === asked) {
      try {
        const reply = await fetch(address, init);
        const text = await reply.text();
        if (turn !== asked) return;
        if (reply.ok) answer.innerHTML = text;
        else answer.textContent = "There is no plan: work it out again.";
      } catch (error) {
        answer.textContent = "The program behind this page is not running. What you typed is kept: start it again and reload.";
      }
      const going = answer.querySelector("[data-planning]");
      wait = Boolean(going);
      if (going) {
        address = "/plan?plan=" + going.dataset.planning;
        init = {};
        await new Promise(done => setTimeout(done, 700));
      }
    }
    if (turn === asked) answer.classList.remove("working");
  };
  answer.addEventListener("click", event => {
    const stop = event.target.closest("button[data-stop]");
    if (stop) planned("/plan/stop", { method: "POST", body: new URLSearchParams({ plan: stop.dataset.stop }) });
  });
  if (form.dataset.waits) form.addEventListener("submit", event => {
    if (!event.submitter || event.submitter.value !== "try") return;
    event.preventDefault();
    event.stopImmediatePropagation();
    planned("/plan", { method: "POST", body: new URLSearchParams(new FormData(form)) });
  });
  form.addEventListener("submit", () => { try { sessionStorage.removeItem(store); } catch (error) { /* nothing kept */ } });

  sliders();
  try {
    const kept = JSON.parse(sessionStorage.getItem(store) || "null");
    if (kept && JSON.stringify(kept) !== JSON.stringify(current)) { restore(kept); current = state(); ask(); }
  } catch (error) { /* nothing kept */ }
}

// The clock of today's batch: begun once, it goes on over a reload.
const clock = document.querySelector("[data-clock]");
if (clock) {
  const store = "formulate clock " + clock.dataset.clock;
  const steps = [...clock.querySelectorAll("li[data-seconds]")];
  const now = document.getElementById("now"), begin = document.getElementById("begin"), over = document.getElementById("over");
  const hour = moment => new Date(moment).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const left = seconds => seconds >= 3600 ? Math.floor(seconds / 3600) + " h " + Math.floor(seconds % 3600 / 60) + " min"
    : seconds >= 60 ? Math.floor(seconds / 60) + " min" : Math.floor(seconds) + " s";
  const show = () => {
    const begun = Number(localStorage.getItem(store));
    begin.hidden = Boolean(begun);
    over.hidden = !begun;
    let ends = begun || Date.now(), current = null;
    for (const step of steps) {
      ends += 1000 * Number(step.dataset.seconds);
      step.querySelector(".figure").textContent = begun ? "until " + hour(ends) : left(Number(step.dataset.seconds));
      step.removeAttribute("aria-current");
      if (begun && !current && Date.now() < ends) {
        current = step;
        step.setAttribute("aria-current", "step");
        step.querySelector(".figure").textContent += ", " + left((ends - Date.now()) / 1000) + " left";
      }
    }
    const said = !begun ? "Not begun." : current ? "Now: " + current.firstChild.textContent.trim() + "." : "Done: taste it, then bottle.";
    if (now.textContent !== said) now.textContent = said;
  };
  begin.addEventListener("click", () => { localStorage.setItem(store, Date.now()); show(); });
  over.addEventListener("click", () => { localStorage.removeItem(store); show(); });
  setInterval(show, 1000);
  show();
}
