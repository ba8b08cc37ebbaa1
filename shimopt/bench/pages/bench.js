// The bench page made live. Everything here works without this file too, form by form.
// A reading is an event (bench, counter). It lies in localStorage until the server says that it has it.
// Text is only ever put in as text; live parts are taken over from the same page as the server makes it.
"use strict";
(() => {
  const root = document.documentElement, body = document.body;
  root.classList.add("js");
  const job = body.dataset.job, words = body.dataset, list = body.classList.contains("index");
  const all = (what, within = document) => [...within.querySelectorAll(what)];
  const one = (what, within = document) => within.querySelector(what);
  const make = (name, kind, text = "") => Object.assign(document.createElement(name), { className: kind, textContent: text });
  // what came of a form is told once: loaded again, it is the job's page
  const made = location.search === "?new";
  if (job && body.classList.contains("job")) history.replaceState(null, "", `/job/${job}${location.hash}`);

  // ---- what this browser keeps -------------------------------------------------------------------------------
  const kept = {
    get(key, otherwise) { try { return JSON.parse(localStorage.getItem(key)) ?? otherwise; } catch { return otherwise; } },
    set(key, value) { try { localStorage.setItem(key, JSON.stringify(value)); return true; } catch { return false; } },
    drop(key) { try { localStorage.removeItem(key); } catch { /* nothing is kept there */ } },
    names() { try { return Object.keys(localStorage); } catch { return []; } },
  };
  const letters = "abcdefghijklmnopqrstuvwxyz0123456789";
  const LONGEST = 8000; // so long somebody who types is waited for [ms]
  const random = () => [...crypto.getRandomValues(new Uint8Array(24))].map((n) => letters[n % 36]).join("");
  const bench = kept.get("bench") || random();
  kept.set("bench", bench);
  // each reading under a name of its own: two pages of one browser never write over one another's
  const mark = "reading ";
  // where nothing can be kept, as in a private window, readings live as long as the page does
  let memory = [];
  function lying() {
    const here = new Set(memory.map((e) => mark + e.key));
    const there = kept.names().filter((name) => name.startsWith(mark) && !here.has(name)).map((name) => kept.get(name));
    return [...memory, ...there.filter(Boolean)].sort((a, b) => a.counter - b.counter || (a.key < b.key ? -1 : 1));
  }
  // what was refused while its job's page was not open lies here until that page has shown it
  const queue = () => lying().filter((e) => !e.refused), refused = () => lying().filter((e) => e.refused);
  function keep(event) {
    memory = memory.filter((e) => e.key !== event.key);
    if (!kept.set(mark + event.key, event)) memory.push(event);
    tell();
  }
  function letGo(event) { memory = memory.filter((e) => e.key !== event.key); kept.drop(mark + event.key); tell(); }
  let last = 0;
  const counted = () => { last = Math.max(kept.get("counter", 0), last) + 1; kept.set("counter", last); return last; };

  // ---- sent, or kept here --------------------------------------------------------------------------------------
  const state = one("#state");
  const waits = new Map(); // forms that were touched and not yet handed on: when they will be, and what is kept of them till then
  let trouble = "", sent = false;
  function tell() {
    if (!state) return;
    for (const by of all("[data-by]")) if (by.dataset.by === bench) by.textContent = words.sayMine;
    const waiting = queue(), left = waiting.length;
    const why = trouble ? `. ${trouble}` : "";
    const bad = all(".gap").filter((card) => one(".told.bad", card)).map((card) => card.dataset.gap);
    const elsewhere = refused().map((e) => `${one(`a[href="/job/${e.job}"] b`)?.textContent ?? e.job}, ${e.fields.gap} ${saidIn(e)}`);
    const now = left ? words.sayKept.replace("{n}", left) + why : bad.length ? words.sayNotTaken.replace("{what}", bad.join(", ")) : sent && !waits.size ? words.saySent : "";
    const text = [now, elsewhere.length ? words.sayRefused.replace("{n}", elsewhere.length).replace("{what}", elsewhere.join("; ")) : ""].filter(Boolean).join(" · ");
    if (state.textContent !== text) state.textContent = text;
    state.classList.toggle("kept", left + bad.length + elsewhere.length > 0);
    // a card shows its own reading before the plan does; what was refused is in neither
    const open = (card) => card.dataset.tapped || one(".told.bad, form.reading:invalid", card) || waiting.some((e) => e.job === job && e.fields.gap === card.dataset.gap);
    // pieces are shared: what one gap reads anew changes what the others get
    const older = all(".gap").some((card) => open(card) || card.dataset.waits === "1");
    for (const card of all(".gap")) card.classList.toggle("stale", open(card) || (older && !card.classList.contains("alone")));
    one(".answer")?.classList.toggle("stale", older);
  }
  // who joins anew sends what is kept by that
  const leaving = (event) => { if (queue().length && !one("form[action='/pair']")) { event.preventDefault(); event.returnValue = words.sayLeaving || ""; } };
  addEventListener("beforeunload", leaving);

  const saidIn = ({ fields }) => Object.keys(fields).filter((name) => !["gap", "spot", "step", "over", "checked"].includes(name)).map((name) => fields[name]).join("/");
  let sending = false, pause = 0, timer = 0;
  // what may still be tapped on waits in the queue for its moment; a clock that was set back holds nothing up
  const ripens = (event) => { const left = (event.ripe || 0) - Date.now(); return left > 0 && left <= LONGEST ? left : 0; };
  const sameGap = (a, b) => a.job === b.job && a.fields.gap === b.fields.gap;
  async function send() {
    clearTimeout(timer);
    if (sending || !words.saySent) return;
    sending = true;
    try {
      // what has to wait holds up what was read later of its gap, and nothing else
      const gone = new Set(), held = [];
      for (let first; (first = queue().find((e) => !ripens(e) && !gone.has(e.job) && !held.some((it) => sameGap(it, e))));) {
        const answer = await post(`/job/${first.job}/reading`, { bench: first.bench, counter: String(first.counter), ...first.fields });
        if (answer.status === 409 && (first.tries || 0) < 3) {
          // this number was another reading's, of a tab that counted at the same moment; what was read later stays later
          const tries = (first.tries || 0) + 1;
          for (const e of queue()) if (sameGap(e, first) && e.counter >= first.counter) keep({ ...e, counter: counted(), tries });
          continue;
        }
        if (answer.status === 404) { trouble = words.sayGone; gone.add(first.job); continue; }
        if (answer.status === 401 || answer.status === 403) { trouble = words.sayShutOut; throw new Error("shut out"); }
        // only what was taken, or was refused for what it says, goes from here
        if (answer.status >= 400 && !(answer.status === 400 && answer.json?.errors)) { held.push(first); continue; }
        const shown = first.job === job && cardOf(first.fields.gap), taken = answer.status < 400;
        if (shown || taken) letGo(first); else keep({ ...first, refused: answer.json.errors });
        if (taken) for (const e of refused()) if (sameGap(e, first) && e.counter < first.counter) letGo(e);
        pause = 0; trouble = gone.size ? words.sayGone : ""; sent = taken;
        if (shown) answered(first, answer);
      }
      if (held.length) { trouble = words.sayWaits; throw new Error("later"); }
      const unripe = queue().map(ripens).filter(Boolean);
      if (unripe.length) timer = setTimeout(send, Math.min(...unripe) + 20);
    } catch {
      trouble = trouble || words.sayOffline;
      pause = Math.min(8000, (pause || 500) * 2);
      timer = setTimeout(send, pause);
    } finally { sending = false; tell(); }
  }
  async function post(where, fields) {
    const stop = new AbortController(), limit = setTimeout(() => stop.abort(), 8000);
    try {
      const got = await fetch(where, { method: "POST", credentials: "same-origin", cache: "no-store", signal: stop.signal, redirect: "manual",
        headers: { "Content-Type": "application/json", Accept: "application/json", "X-Bench": "1" }, body: JSON.stringify(fields) });
      const json = await got.json().catch(() => null);
      // what is no answer of ours is some other network's
      if (got.status < 400 && !json) throw new Error("no answer");
      return { status: got.status, json };
    } finally { clearTimeout(limit); }
  }

  // ---- what the server said to a reading -----------------------------------------------------------------------
  const cardOf = (gap) => all(".gap").find((card) => card.dataset.gap === gap);
  function answered(event, { json }) {
    const card = cardOf(event.fields.gap);
    if (!card || !json) return;
    const newest = Number(card.dataset.counter || 0);
    if (newest > event.counter && card.dataset.bench === event.bench) return; // tapped again since
    const wrong = (json.errors || []).map((e) => e.text).join(" ");
    say(card, wrong, Boolean(wrong));
    const checked = one("label.checked", card);
    // it is offered by the words of what is wrong, and by nothing else
    if (checked && (checked.hidden = !wrong.includes(checked.textContent.trim()))) one("input", checked).checked = false;
    if (wrong) { card.dataset.waits = "0"; tell(); return; }
    card.dataset.waits = "1";
    if (json.alone) alone(card, json.alone);
    if (json.differs) refresh();
  }
  function say(card, text, bad) {
    const told = one(".told", card);
    told.textContent = text;
    told.classList.toggle("bad", Boolean(bad));
  }
  function alone(card, found) {
    const n = card.dataset.n, work = make("dl", "work");
    for (const row of found.work) {
      const line = make("div", /^(fit|in|out)?$/.test(row.label) ? "main" : "");
      if (row.label) line.append(make("dt", "", row.label));
      line.append(make("dd", "", row.text));
      work.append(line);
    }
    one(`[data-live=work-${n}]`).replaceChildren(work);
    const sign = one(`[data-live=verdict-${n}]`);
    sign.className = found.verdict;
    const shows = make("p", "verdict", ` ${found.word}`), mark = make("span", "sign", found.sign);
    mark.setAttribute("aria-hidden", "true");
    shows.prepend(mark);
    sign.replaceChildren(shows);
    if (found.strip) {
      const drawn = new DOMParser().parseFromString(found.strip, "image/svg+xml").documentElement;
      one(`[data-live=strip-${n}]`).replaceChildren(document.adoptNode(drawn));
    }
    say(card, words.sayAlone, false);
    card.classList.remove("stale");
    card.classList.add("alone");
  }

  // ---- live parts, taken over from the page as it is now -------------------------------------------------------
  let asked = 0;
  async function refresh() {
    if (!(job || list) || words.page) return;
    const mine = ++asked;
    try {
      const got = await fetch(location.pathname, { headers: { "X-Bench": "1", Accept: "text/html" }, credentials: "same-origin", cache: "no-store" });
      if (!got.ok) return;
      const text = await got.text();
      if (mine !== asked) return; // a newer one is under way
      const page = new DOMParser().parseFromString(text, "text/html");
      if (page.body.dataset.job !== job) return;
      if (all("[data-live]", page).length !== all("[data-live]").length) { if (!queue().length) location.reload(); return; }
      takeOver(page);
    } catch { /* the event stream says when there is a way again */ }
  }
  function takeOver(page) {
    // what is kept here, or was sent and is not planned yet, is not shown by an older plan
    const waiting = new Set(queue().filter((e) => e.job === job).map((e) => e.fields.gap));
    if (page.body.dataset.current === "0") for (const card of all(".gap[data-waits='1']")) waiting.add(card.dataset.gap);
    words.version = page.body.dataset.version; words.stage = page.body.dataset.stage;
    for (const part of all("[data-live]")) {
      const fresh = one(`[data-live="${part.dataset.live}"]`, page), card = part.closest(".gap");
      if (!fresh || (card && waiting.has(card.dataset.gap))) continue;
      if (part.contains(document.activeElement) && part !== document.activeElement) continue;
      if (part.outerHTML === fresh.outerHTML) continue;
      const top = part.scrollTop;
      part.className = fresh.className;
      part.replaceChildren(...[...fresh.childNodes].map((node) => document.adoptNode(node)));
      part.scrollTop = top;
    }
    for (const card of all(".gap")) {
      if (waiting.has(card.dataset.gap)) continue;
      // what was refused stays as it was typed, to be mended or stood by
      const theirs = one(".told.bad", card) ? null : one(`#${card.id}`, page);
      if (theirs) for (const form of all("form.reading", card)) {
        // a reading is taken over whole, and not while it is typed or tapped: one blade of another's is nobody's reading
        if (card.dataset.tapped || form.matches(":invalid") || (form.contains(document.activeElement) && document.activeElement.matches("input"))) { form.dataset.missed = "1"; continue; }
        for (const input of all("input[id]", form)) {
          const now = theirs.querySelector(`#${input.id}`);
          if (!now || input.value === now.value) continue;
          input.value = now.value;
          delete card.dataset.said;
        }
      }
      card.dataset.waits = "0";
      card.classList.remove("alone");
      if (!one(".told.bad", card)) say(card, "", false);
    }
    // also where a part is not taken over because a finger is on it: by then all the rest shows the newer plan
    for (const name of ["token", "version"]) {
      const now = one(`[name=${name}]`, page);
      if (now) for (const input of all(`[name=${name}]`)) input.value = now.value;
    }
    tell();
  }

  // ---- the stream of events, closed while nobody looks -----------------------------------------------------------
  let stream = null, soon = 0;
  function listen() {
    if (!(job || list) || document.hidden || stream) return;
    stream = new EventSource(job ? `/events?job=${encodeURIComponent(job)}&bench=${bench}` : "/events");
    stream.addEventListener("open", () => { pause = 0; send(); if (words.page) drawnBefore(); else refresh(); });
    for (const name of ["answer", "changed", "jobs"]) stream.addEventListener(name, (event) => {
      // with many benches something happens all the time: the list shows it every other second
      if (list) { soon ||= setTimeout(() => { soon = 0; refresh(); }, 1500); return; }
      const told = JSON.parse(event.data), same = name === "answer" && told.version === words.version;
      if (told.job !== job) return;
      // a page about the plan is drawn anew by the next one
      if (words.page) { if (!same) { if (name === "answer") location.reload(); else newer(); } }
      else if (!(same && told.stage === words.stage)) refresh();
    });
    stream.addEventListener("reading", (event) => {
      const told = JSON.parse(event.data);
      if (told.job !== job) return;
      if (words.page) { if (told.differs) location.reload(); else newer(); }
      else if (told.differs || !told.own) refresh();
    });
  }
  // what came between the making of this page and its listening; a plan that comes out otherwise each time turns in no circle
  async function drawnBefore() {
    const got = await fetch(`/job/${job}/answer`, { credentials: "same-origin", cache: "no-store" }).catch(() => null);
    const now = got?.ok ? await got.json().catch(() => null) : null;
    if (now && now.version !== words.version && performance.getEntriesByType("navigation")[0]?.type !== "reload") location.reload();
  }
  function newer() {
    const told = one("#newer");
    told.textContent = told.dataset.words; told.hidden = false;
  }
  function deaf() { stream?.close(); stream = null; }
  document.addEventListener("visibilitychange", () => { if (document.hidden) { flush(); deaf(); } else { listen(); send(); refresh(); } });
  addEventListener("pagehide", deaf);
  addEventListener("pageshow", (event) => { if (event.persisted) { listen(); send(); refresh(); } });
  addEventListener("online", () => { pause = 0; send(); });
  addEventListener("storage", (event) => { if (event.key?.startsWith(mark)) { showRefused(); tell(); } });

  // ---- readings ----------------------------------------------------------------------------------------------------
  // what a form says, if it says anything, and anything else than was handed on last
  function saidBy(form) {
    if (!form.checkValidity()) return null;
    const fields = {};
    for (const [name, value] of new FormData(form)) if (name !== "token" && String(value).trim()) fields[name] = String(value).trim();
    const said = JSON.stringify(fields);
    if (fields.go === "0") delete fields.go;
    return form.closest(".gap").dataset.said === said ? null : { fields, said };
  }
  // it is kept from the first touch on, and sent a moment after the last: a browser that ends between the two loses nothing
  function put(form, event, at) {
    const found = saidBy(form);
    if (!found) { if (event) letGo(event); return [null, ""]; }
    const { key, counter } = event ?? { key: random(), counter: counted() };
    const now = { key, job, bench, counter, fields: found.fields, ripe: at && Date.now() + at };
    keep(now);
    return [now, found.said];
  }
  function touched(form, at = 500) {
    if (!form.matches("form.reading")) { form.dispatchEvent(new Event("input")); return; } // what is sent as a whole waits for its button
    const before = waits.get(form);
    clearTimeout(before?.timer);
    form.closest(".gap").dataset.tapped = "1";
    const waiting = { timer: setTimeout(() => handOn(form), at), event: null };
    waits.set(form, waiting);
    [waiting.event] = put(form, before?.event, at);
    tell();
  }
  function flush() { for (const form of [...waits.keys()]) handOn(form); }
  function handOn(form) {
    const before = waits.get(form), card = form.closest(".gap");
    clearTimeout(before?.timer);
    waits.delete(form);
    delete card.dataset.tapped;
    form.reportValidity();
    const [event, said] = put(form, before?.event, 0);
    if (!event) { tell(); return; }
    card.dataset.said = said;
    card.dataset.counter = String(event.counter); card.dataset.bench = bench;
    say(card, "", false);
    tell();
    send();
  }
  for (const form of all("form.reading")) {
    form.addEventListener("submit", (event) => { event.preventDefault(); handOn(form); document.activeElement?.blur(); });
    // who types goes on to the next field: nothing is sent before that is left, or a moment has gone by
    form.addEventListener("change", ({ target }) => {
      if (target.name === "go") follow(form, target.defaultBefore ?? target.defaultValue);
      touched(form, target.type === "checkbox" ? 50 : 2000);
    });
    form.addEventListener("focusin", ({ target }) => {
      target.defaultBefore = target.value;
      target.select?.(); // what is typed takes the place of what stands there
      // only somebody who types is waited for: a tap on a button, and a pad that closes, give the focus too
      if (waits.has(form) && target.matches("input:not([type=checkbox], [inputmode=none])")) touched(form, LONGEST);
    });
    form.addEventListener("focusout", ({ relatedTarget }) => {
      if (form.dataset.missed && !form.contains(relatedTarget)) { delete form.dataset.missed; setTimeout(refresh, 1000); }
      if (waits.has(form) && !form.contains(relatedTarget) && !one("#pad")?.open) touched(form, 700);
    });
  }
  // what was kept when the page was left stands in its fields again
  function stands(event) {
    const form = all("form.reading", cardOf(event.fields.gap) ?? undefined).find((f) => event.job === job && f.elements.gap.value === event.fields.gap && (f.elements.spot?.value ?? "") === (event.fields.spot ?? ""));
    if (form) for (const input of all("input[id]", form)) if (event.fields[input.name] !== undefined) input.value = event.fields[input.name];
    return form;
  }
  for (const event of queue()) stands(event);
  function showRefused() {
    for (const event of refused()) if (stands(event)) { letGo(event); answered(event, { json: { errors: event.refused } }); }
  }
  showRefused();

  // ---- steps through the blades: a tap is one, held it runs -----------------------------------------------------------
  const blades = (words.blades || "").split(" ").filter(Boolean);
  const number = (text) => Number(String(text).replace(",", ".").match(/^\s*([0-9]*\.?[0-9]+)/)?.[1] ?? NaN);
  function beside(text, way) {
    const now = number(text);
    if (Number.isNaN(now)) return way > 0 ? blades[0] : "";
    const next = way > 0 ? blades.find((b) => Number(b) > now) : blades.findLast((b) => Number(b) < now);
    // beyond the set blades are held together: as much more as the last step
    if (next === undefined && way > 0 && blades.length > 1) return String(+(now + (Number(blades.at(-1)) - Number(blades.at(-2)))).toFixed(6));
    return next ?? "";
  }
  // the blade that does not go stays beside the one that goes, unless somebody set it otherwise
  function partner(form, before, goes, stem = "") {
    const other = form.elements[`${stem}no_go`];
    if (!other || !blades.length) return other?.value;
    const neighbours = number(other.value) === number(beside(before, 1));
    // of what is no blade of the set nobody knows which blade did not go: it is asked for
    const typed = number(goes), least = Number(blades[0]), plain = /^[\s\d.,]*$/.test(goes);
    const asked = !plain || (typed > 0 && typed < Number(blades.at(-1)) && !blades.some((b) => Number(b) === typed));
    const other_unit = asked && typed < least && number(other.value) >= least;
    return neighbours || other_unit || !(number(other.value) > (typed || 0)) ? asked ? "" : beside(goes, 1) : other.value;
  }
  function follow(form, before, stem = "") {
    const go = form.elements[`${stem}go`], other = form.elements[`${stem}no_go`];
    if (go && other) other.value = partner(form, before, go.value, stem);
  }
  function stepOnce(button) {
    const form = button.form ?? button.closest("form"), way = Number(button.dataset.step), name = button.dataset.of;
    const input = form.elements[name];
    if (!input || !blades.length) return;
    const kind = name.split(".").at(-1), stem = name.slice(0, -kind.length), go = form.elements[`${stem}go`];
    // where nothing stands yet, what was predicted is the first blade to try
    const first = kind === "go" ? blades.findLast((b) => Number(b) <= Number(input.dataset.start)) : beside(input.dataset.start, 1);
    const before = input.value, next = !before && input.dataset.start ? first ?? blades[0] : beside(before, way);
    if (kind !== "go" && next === "") return;
    input.value = next;
    if (kind === "go") follow(form, before, stem);
    else if (kind === "no_go" && (go.value ? number(go.value) >= number(next) : input.dataset.start)) go.value = beside(next, -1);
    touched(form);
  }
  for (const button of all(".step")) {
    let runs = 0, ran = false, down = false;
    const stop = () => { clearTimeout(runs); down = false; button.classList.remove("held"); };
    button.addEventListener("pointerdown", (event) => {
      if (event.button) return;
      down = true; ran = false;
      button.classList.add("held");
      let every = 240;
      const run = () => { ran = true; stepOnce(button); every = Math.max(60, every * 0.9); runs = setTimeout(run, every); };
      runs = setTimeout(run, 450);
    });
    // on the way up: a thumb that scrolls over it changes nothing, the browser takes the pointer away then
    button.addEventListener("pointerup", () => { const tapped = down && !ran; stop(); if (tapped) stepOnce(button); });
    for (const name of ["pointercancel", "pointerleave", "blur"]) button.addEventListener(name, stop);
    button.addEventListener("click", (event) => { if (event.detail === 0) stepOnce(button); }); // by keyboard
    button.addEventListener("contextmenu", (event) => event.preventDefault());
  }

  // ---- the pad and the view from two metres, which the phone's own Back closes ---------------------------------------
  const open = (dialog) => { dialog.showModal(); if (!history.state?.top) history.pushState({ top: 1 }, ""); };
  addEventListener("popstate", () => { if (!history.state?.top) for (const dialog of all("dialog[open]")) dialog.close(); });
  for (const dialog of all("dialog")) dialog.addEventListener("close", () => { if (history.state?.top) history.back(); });
  const pad = one("#pad"), far = one("#far");
  if (pad) {
    let into = null, typed = "";
    const shows = one(".pad-shows", pad), next = one("[data-key=next]", pad);
    const show = () => {
      shows.textContent = typed || " ";
      const other = into.name === "go" && typed.trim() && into.form.elements.no_go;
      // what is set beside it is seen before it is
      one(".pad-next", pad).textContent = other ? `${one(`label[for="${other.id}"]`).textContent}: ${partner(into.form, into.value, typed.trim()) || "?"}` : "";
    };
    for (const input of all("form.reading input[id]")) {
      // our keys are larger than the system's, and have figures alone
      if (!matchMedia("(pointer: coarse)").matches || "words" in input.dataset) continue;
      input.inputMode = "none";
      input.addEventListener("click", () => {
        into = input; typed = input.name === "readings" && input.value ? `${input.value} ` : ""; // one more pull
        next.hidden = input.name !== "readings";
        one(".pad-name", pad).textContent = `${one("h3", input.closest(".gap")).textContent}: ${one(`label[for="${input.id}"]`).textContent}`;
        show();
        open(pad);
        if (waits.has(into.form)) touched(into.form, LONGEST); // until the pad is closed
      });
    }
    pad.addEventListener("click", (event) => {
      const key = event.target.closest("[data-key]")?.dataset.key;
      if (!key) return;
      if (key === "close") return pad.close();
      if (key === "del") typed = typed.slice(0, -1);
      else if (key === "next") typed = typed.trimEnd() + " ";
      else if (key === "ok") {
        const before = into.value;
        if (typed.trim()) {
          into.value = typed.trim();
          if (into.name === "go") follow(into.form, before);
          touched(into.form);
        }
        return pad.close();
      } else if (typed.length < 60) typed += key;
      show();
    });
    pad.addEventListener("close", () => { if (waits.has(into.form)) touched(into.form); });
    pad.addEventListener("keydown", ({ key }) => {
      if (/^[0-9.,]$/.test(key)) typed += key; else if (key === "Backspace") typed = typed.slice(0, -1);
      show();
    });
  }
  if (far) {
    for (const button of all("[data-big]")) button.addEventListener("click", () => {
      const card = one(`#gap-${button.dataset.big}`), copy = (what) => [...one(what, card).childNodes].map((node) => node.cloneNode(true));
      one(".far-name", far).textContent = one("h3", card).textContent + (card.classList.contains("stale") ? `: ${one(".earlier", card).textContent}` : "");
      one(".far-work", far).replaceChildren(...copy(".does"));
      // a number keeps its unit beside it
      for (const text of all("dd", far)) text.textContent = text.textContent.replace(/(\d) (?=(mm|um|in|thou)\b)/g, "$1\u00a0");
      one(".far-work", far).className = `far-work ${one(".does", card).className}`;
      one(".far-verdict", far).replaceChildren(...copy(".top > div"));
      one(".far-verdict", far).className = `far-verdict ${one(".top > div", card).className}`;
      far.classList.toggle("stale", card.classList.contains("stale"));
      far.classList.toggle("short", all(".main dd", far).every((text) => text.textContent.length < 6));
      open(far);
    });
    one("[data-key=close]", far).addEventListener("click", () => far.close());
  }

  // ---- a new job, screen by screen ---------------------------------------------------------
  const asked4 = one("form[data-new]");
  if (asked4) {
    const screens = () => all(".screen", asked4), more = one(".more", asked4), write = one(".go", asked4);
    let at = 0;
    const row = make("div", "turn"), back = make("button", "", asked4.dataset.back), next = make("button", "go", asked4.dataset.next);
    back.type = next.type = "button";
    row.append(back, next);
    write.before(row);
    const show = (n, focus = true, turned = true) => {
      const before = at;
      at = Math.max(0, Math.min(n, screens().length - 1));
      if (turned && at !== before) history.pushState({ at }, "");
      screens().forEach((screen, k) => { screen.hidden = k !== at; });
      more.hidden = screens()[at].dataset.screen !== "gap" || screens()[at + 1]?.dataset.screen === "gap";
      back.hidden = at === 0; next.hidden = at === screens().length - 1; write.hidden = !next.hidden;
      if (focus) { scrollTo(0, 0); one("input", screens()[at])?.focus(); }
    };
    const whole = (screen) => all("input, textarea", screen).every((input) => input.reportValidity());
    const fields = () => Object.fromEntries(new FormData(asked4));
    const units = () => { for (const one of all(".unit", asked4)) one.textContent = `(${fields().unit})`; };
    for (const name of ["change", "drafted"]) asked4.addEventListener(name, units);
    // a further gap of which nothing is typed is none
    const blank = (screen) => Number(screen.dataset.number) > 1 && all("input:not([type=radio]), textarea", screen).every((input) => !input.value.trim());
    // what is wrong stands at its field, on the first screen that has any of it; without an answer it is told at the end
    const wrong = async (among) => {
      const found = (await post("/new", { ...fields(), step: "check" }).catch(() => null))?.json?.errors || [];
      for (const old of all(".wrong", asked4)) old.remove();
      for (const input of all("[aria-invalid]", asked4)) input.removeAttribute("aria-invalid");
      const on = among.find((screen) => found.some((error) => one(`[name="${error.field}"]`, screen)));
      if (!on) return false;
      show(screens().indexOf(on));
      for (const error of found) {
        const input = one(`[name="${error.field}"]`, on);
        if (!input) continue;
        const told = make("p", "wrong", [error.rule, error.remedy].map((words) => `${words[0].toUpperCase()}${words.slice(1)}.`).join(" "));
        told.setAttribute("role", "alert");
        input.setAttribute("aria-invalid", "true");
        input.closest("label").after(told); input.focus();
      }
      return true;
    };
    next.addEventListener("click", async () => {
      const here = screens()[at];
      if (blank(here)) { show(at + 1); return; }
      if (whole(here) && !(await wrong([here])) && screens()[at] === here) show(at + 1);
    });
    write.addEventListener("click", async (event) => {
      if (write.dataset.checked) { delete write.dataset.checked; return; }
      event.preventDefault();
      if (await wrong(screens())) return;
      write.dataset.checked = "1"; write.click();
    });
    // the phone's own Back turns one screen back, as ours does
    addEventListener("popstate", ({ state }) => show(state?.at ?? 0, true, false));
    back.addEventListener("click", () => { if (history.state?.at === at) history.back(); else show(at - 1); });
    asked4.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
      event.preventDefault(); (next.hidden ? write : next).click();
    });
    const grow = (last) => {
      const n = Number(last.dataset.number) + 1, copy = last.cloneNode(true);
      copy.dataset.number = String(n);
      one("h2", copy).textContent = one("h2", last).textContent.replace(/\d+$/, String(n));
      for (const input of all("input, textarea", copy)) {
        input.name = input.name.replace(/^gap\.\d+\./, `gap.${n}.`);
        if (input.type === "radio") input.checked = one(":checked", last)?.value === input.value;
        else { input.value = ""; input.required = false; }
      }
      last.after(copy);
    };
    more.addEventListener("click", async (event) => {
      event.preventDefault();
      const last = screens()[at];
      if (blank(last) || !whole(last) || (await wrong([last])) || screens()[at] !== last) return;
      grow(last);
      asked4.dispatchEvent(new Event("input"));
      show(at + 1);
    });
    for (let n = all("[data-screen=gap]", asked4).length + 1; kept.get(asked4.dataset.draft)?.typed[`gap.${n}.name`] !== undefined; n++) grow(all("[data-screen=gap]", asked4).at(-1));
    asked4.addEventListener("invalid", (event) => { const k = screens().findIndex((screen) => screen.contains(event.target)); if (k >= 0 && k !== at) show(k); }, true);
    // what was refused is shown where it is wrong
    show((kept.get(asked4.dataset.draft) && history.state?.at) ?? screens().findIndex((screen) => one("[aria-invalid]", screen)), false, false);
  }
  // nothing is held or recorded by a plan that knows less than this browser
  document.addEventListener("submit", (event) => {
    const { unsent } = event.target.dataset, [, , of] = event.target.getAttribute("action").split("/");
    if (!unsent) return;
    flush();
    const left = queue().some((e) => e.job === of), button = event.submitter;
    button?.setCustomValidity(left ? unsent : "");
    if (!left) return;
    event.preventDefault(); event.stopImmediatePropagation();
    button?.reportValidity();
    send();
  }, true);
  document.addEventListener("click", (event) => event.target.closest("button")?.setCustomValidity(""), true);
  // whoever goes on to another page of ours sees it by the readings just given: it is opened once they are sent
  document.addEventListener("click", async (event) => {
    const link = event.target.closest("a[href]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    flush();
    if (!queue().some((e) => e.job === job)) return;
    event.preventDefault();
    for (let n = 0; n < 30 && queue().some((e) => e.job === job); n++) await new Promise((go) => setTimeout(go, 100));
    location.assign(link.href);
  });
  // what is sent as a whole is sent once the computer answers: else the browser's own page would take the place of all that was typed
  document.addEventListener("submit", async (event) => {
    const form = event.target, button = event.submitter;
    if (!form.dataset.noWay || form.dataset.way) return;
    event.preventDefault(); event.stopImmediatePropagation();
    if (form.dataset.asking) return;
    form.dataset.asking = "1";
    const there = await fetch("/icon.svg", { cache: "no-store", signal: AbortSignal.timeout(8000) }).then((got) => got.status < 500, () => false);
    delete form.dataset.asking;
    button?.setCustomValidity(there ? "" : form.dataset.noWay);
    if (!there) { button?.reportValidity(); return; }
    form.dataset.way = "1"; form.requestSubmit(button); delete form.dataset.way;
  }, true);
  // and is kept until the computer has it; where its job changed meanwhile, that is said
  if (words.has || made) kept.drop(words.has || "draft new");
  for (const form of all("form[data-draft]")) {
    const name = form.dataset.draft, version = form.elements.version?.value, before = kept.get(name), { of } = form.dataset, told = one(".drafted", form);
    const typed = () => Object.fromEntries([...new FormData(form)].filter(([of, value]) => (value || of.endsWith(".name")) && !["token", "version", "step"].includes(of)));
    const first = JSON.stringify(typed());
    if (before && before.of === of) {
      for (const input of all("input:not([type=hidden]), textarea", form)) {
        const was = before.typed[input.name];
        if (input.matches("[type=radio], [type=checkbox]")) input.checked = was === input.value;
        else if (was) { input.value = was; const more = input.closest("details"); if (more) more.open = true; }
      }
      if (before.version !== version) told.textContent = told.dataset.changed;
      told.hidden = false;
      one("button", told)?.addEventListener("click", () => { kept.drop(name); location.replace(location.pathname); });
    }
    form.addEventListener("input", () => { if (JSON.stringify(typed()) !== first || before) kept.set(name, { version, of, typed: typed() }); });
    form.dispatchEvent(new Event("drafted"));
  }
  // without a secure context there is no clipboard to write to: then what is to be copied stands chosen
  for (const button of all("[data-copy]")) button.addEventListener("click", () => {
    const text = one(button.dataset.copy);
    text.focus(); text.select();
    if (document.execCommand("copy")) button.textContent = button.dataset.done;
  });
  // a form is sent once, however often it is tapped
  for (const form of all("form.once")) form.addEventListener("submit", () => { setTimeout(() => { for (const b of all("button", form)) b.disabled = true; }); });
  tell(); listen(); send();
})();
