"use strict";
/* The coach's page: plays the routine, draws its figures, keeps remarks. Whatever comes from the
   routine is put in as text, never as markup. Times are seconds from the start of the stage part. */
const $ = (id) => document.getElementById(id);
const data = JSON.parse($("routine").textContent);
// Texts in the language of whoever made the page; English where there is none.
const t = (text, one) => (data.words[text] || text).replace("{}", () => one ?? "");
const bytes = (id) => Uint8Array.from(atob($(id).textContent), (c) => c.charCodeAt(0));
const audio = new Audio();
audio.preload = "auto";
audio.preservesPitch = true;
audio.src = URL.createObjectURL(new Blob([bytes("music")], { type: data.sound }));
const still = matchMedia("(prefers-reduced-motion: reduce)");

/* -- figures: hulls of balls, the farthest first ---------------------------------------------- */
const STEPS = 40, WIDTH = 15, UNIT = 20000, LIGHT = [-0.62, 0.78];
const ROUND = Array.from({ length: STEPS }, (_, k) => [Math.cos(2 * Math.PI * k / STEPS), Math.sin(2 * Math.PI * k / STEPS)]);
const numbers = new Int16Array(bytes("figures").buffer);
const frames = [];
for (let at = 0; at < numbers.length;) {
  const parts = numbers[at];
  frames.push(numbers.subarray(at + 1, at + 1 + parts * WIDTH));
  at += 1 + parts * WIDTH;
}
function between(one, other, part) {
  if (part === 0 || !other || one.length !== other.length) return one;
  const mixed = Float64Array.from(one);
  for (let k = 0; k < one.length; k++) {
    if (k % WIDTH < 2 && one[k] !== other[k]) return one; // not the same muscles
    if (k % WIDTH > 2) mixed[k] += (other[k] - one[k]) * part;
  }
  return mixed;
}
function hull(frame, at, grow, lit) {
  let path = "";
  for (const [x, y] of ROUND) {
    let best = -1e9, bx = 0, by = 0;
    for (let ball = at + 3; ball < at + WIDTH; ball += 3) {
      let cx = frame[ball] / UNIT, cy = frame[ball + 1] / UNIT, r = frame[ball + 2] / UNIT + grow;
      if (lit) { cx += 0.17 * r * LIGHT[0]; cy += 0.17 * r * LIGHT[1]; r *= 0.82; }
      const reach = cx * x + cy * y + r;
      if (reach > best) { best = reach; bx = cx + r * x; by = cy + r * y; }
    }
    path += (path ? "L" : "M") + (bx * 1000).toFixed(0) + " " + (-by * 1000).toFixed(0);
  }
  return path + "Z";
}
function draw(svg, frame, label) {
  const count = frame.length / WIDTH, order = new Array(count);
  for (let k = 0; k < count; k++) order[frame[k * WIDTH + 2]] = k * WIDTH;
  const fills = [];
  for (const at of order) {
    const tone = data.tones[frame[at]], gap = frame[at + 1] / UNIT;
    if (gap) fills.push([data.colours.gap, hull(frame, at, gap, false)]);
    fills.push([data.colours[tone === "ink" ? "shade" : tone], hull(frame, at, 0, false)]);
    if (tone === "ink") fills.push([data.colours.ink, hull(frame, at, 0, true)]);
  }
  svg.setAttribute("viewBox", "-580 -1216 1160 1280");
  svg.setAttribute("aria-label", label);
  while (svg.childNodes.length > fills.length) svg.lastChild.remove();
  while (svg.childNodes.length < fills.length) svg.append(document.createElementNS("http://www.w3.org/2000/svg", "path"));
  fills.forEach(([colour, path], k) => {
    svg.childNodes[k].setAttribute("fill", colour);
    svg.childNodes[k].setAttribute("d", path);
  });
}

/* -- the moment ------------------------------------------------------------------------------ */
const cues = data.cues, hits = cues.map((c) => c.hit);
const flashes = cues.flatMap((c) => [c.hit, ...c.again]).sort((a, b) => a - b);
function after(list, time) { // how many of the sorted list lie at or before time
  let low = 0, high = list.length;
  while (low < high) { const m = (low + high) >> 1; if (list[m] <= time + 1e-6) low = m + 1; else high = m; }
  return low;
}
function say(id, text) { if ($(id).textContent !== text) $(id).textContent = text; }
let drawn = "", last = 0;
const NEAR = 0.12, PACE = 50; // seconds before a flash in which nothing slow is done; ms between figures
function figureAt(time, next, held, until) {
  const cue = next || held;
  if (!cue) { if (drawn) { $("figure").replaceChildren(); drawn = ""; } return; }
  $("photo").hidden = !cue.photo;
  $("figure").toggleAttribute("hidden", Boolean(cue.photo));
  if (cue.photo) { if ($("photo").src !== cue.photo) $("photo").src = cue.photo; $("photo").alt = cue.name; return; }
  let frame = frames[cue.still], key = "s" + cue.number;
  const way = cue.way;
  if (next && way && time > way.start && !still.matches) {
    const place = Math.min(1, (time - way.start) / (way.end - way.start)) * (way.count - 1);
    const k = Math.min(way.count - 2, Math.floor(place)), part = Math.round((place - k) * 3) / 3;
    frame = between(frames[way.first + k], frames[way.first + k + 1], part);
    key = cue.number + ":" + k + ":" + part;
  }
  if (key === drawn) return;
  // Drawing takes longest: it must not make a flash late.
  if (!audio.paused && (until < NEAR || performance.now() - last < PACE)) return;
  draw($("figure"), frame, cue.name);
  drawn = key;
  last = performance.now();
}
function show(time) {
  const k = after(hits, time), next = cues[k], before = cues[k - 1];
  const held = before && time < (next ? next.start : before.end) ? before : null;
  const beat = after(data.beats, time) - 1, inside = beat >= 0 && data.counts[beat];
  const f = after(flashes, time) - 1, since = f >= 0 ? time - flashes[f] : 9;
  const lit = $("stage").classList.contains("hit");
  const now = $("stage").classList.toggle("hit", since < Math.max(0.12, 0.25 * (data.lengths[beat] || 0.5)) && (f < 1 || (flashes[f] - flashes[f - 1]) / audio.playbackRate >= 1 / 3));
  say("next", next ? next.name : "");
  const s = next ? after(next.steps.map((one) => one[0]), time) : 0, left = s ? next.steps[s - 1] : null;
  say("numeral", left ? left[1] : "");
  say("eight", left && !left[2] ? t("seconds") : inside ? t("count {}", inside) : t("free time"));
  const moves = next ? next.moves : data.exit, move = moves.find((m) => m.start <= time && time < m.end);
  say("move", move ? move.text : "");
  say("held", held ? t("held: {}", held.name) : "");
  const ahead = f + 1 < flashes.length ? (flashes[f + 1] - time) / audio.playbackRate : 9;
  figureAt(time, next, held, now && !lit ? 0 : ahead);
  here(held ? k - 1 : next ? k : -1);
  $("seek").value = time;
  const words = clock(time) + (inside ? ", " + t("count {}", inside) : "");
  $("seek").setAttribute("aria-valuetext", words);
  say("time", words + t(" of {}", clock(data.length)));
}
function here(number) { // marks the card of the pose that is held or comes next
  const before = $("poses").querySelector("[aria-current]"), now = $("poses").childNodes[number];
  if (before === now || (!before && !now)) return;
  if (before) before.removeAttribute("aria-current");
  if (!now) return;
  now.setAttribute("aria-current", "true");
  const beside = matchMedia("(min-width: 1000px)").matches && !document.querySelector(".form");
  if (beside && !audio.paused) now.scrollIntoView({ block: "nearest" });
}
const clock = (s) => Math.floor(s / 60) + ":" + (s % 60).toFixed(1).padStart(4, "0").replace(".", data.decimal);

/* -- playing --------------------------------------------------------------------------------- */
function part() { return data.parts[$("part").selectedIndex]; }
const SEEN = 0.016; // seconds from drawing to the screen: a picture at 60 Hz
const drawnFor = () => Math.min(audio.currentTime + SEEN * audio.playbackRate, data.length);
let aimed = 0;
function aim() { // a frame may come late: a flash that is near has a timer of its own
  const time = audio.currentTime, flash = flashes[after(flashes, time)];
  const wait = ((flash - time) / audio.playbackRate - SEEN) * 1000;
  if (aimed || wait < 0 || !(wait < 1000 * NEAR)) return; // below 0 it is drawn already
  aimed = setTimeout(() => { aimed = 0; if (!audio.paused) { show(drawnFor()); aim(); } }, Math.max(0, wait));
}
function step() {
  const now = audio.currentTime, one = part();
  if (!audio.paused && now >= one.end - 0.02) {
    if ($("loop").checked) audio.currentTime = one.start;
    else if (one.end < data.length - 0.05) audio.pause();
  }
  show(audio.paused ? Math.min(now, data.length) : drawnFor());
  aim();
  if (!audio.paused) requestAnimationFrame(step);
}
function seek(time) { audio.currentTime = Math.max(0, Math.min(time, data.length - 0.01)); show(audio.currentTime); }
function toggle() {
  if (!audio.paused) { audio.pause(); return; }
  const one = part(), now = audio.currentTime;
  if (now < one.start - 0.01 || now >= one.end - 0.05) audio.currentTime = one.start;
  audio.play().catch(() => { $("told").textContent = t("The browser does not play this sound. Try another browser."); });
}
audio.addEventListener("play", () => { $("play").textContent = t("Pause"); requestAnimationFrame(step); });
audio.addEventListener("pause", () => { $("play").textContent = t("Play"); });
audio.addEventListener("ended", () => { if ($("loop").checked) { audio.currentTime = part().start; audio.play(); } });
audio.addEventListener("seeked", () => show(audio.currentTime));
function to(way) {
  const now = audio.currentTime, k = way > 0 ? after(hits, now) : after(hits, now - 0.5) - 1;
  if (cues[k]) seek(cues[k].hit); else if (way < 0) seek(0);
}
function speed(percent) {
  const one = [...$("speed").options].find((o) => Number(o.value) === percent);
  if (!one) return;
  $("speed").value = one.value;
  audio.playbackRate = percent / 100;
  audio.preservesPitch = true;
}

/* -- remarks --------------------------------------------------------------------------------- */
const store = "rehearse remarks " + data.routine + " " + data.base;
let remarks = [];
function keep(read) { // a page opened from a file may not be allowed to keep anything
  try {
    if (read) { const kept = JSON.parse(localStorage.getItem(store) || "{}"); remarks = kept.remarks || []; $("author").value = kept.author || ""; }
    else localStorage.setItem(store, JSON.stringify({ author: $("author").value, remarks }));
  } catch (error) { /* the list on the page is still there until it is closed */ }
}
function element(name, text, attributes) {
  const made = document.createElement(name);
  if (text) made.textContent = text;
  for (const [key, value] of Object.entries(attributes || {})) made.setAttribute(key, value);
  return made;
}
function button(text, act, label) {
  const made = element("button", text, { type: "button" });
  if (label) made.setAttribute("aria-label", label);
  made.addEventListener("click", act);
  return made;
}
function choice(words, first, choices) {
  const label = element("label", words), box = element("select");
  box.append(new Option(first, ""));
  for (const [value, shown] of choices) box.append(new Option(shown, value));
  label.append(box);
  return [label, box];
}
function form(place, about, target, cue) {
  document.querySelectorAll(".form").forEach((other) => other.remove());
  const box = element("div", "", { class: "form", role: "group", "aria-label": t("Remark on {}", about) });
  const label = element("label", t("Remark on {}", about)), text = element("textarea", "", { rows: 4, maxlength: data.longest });
  label.append(text);
  box.append(label);
  const wishes = {};
  if (cue) {
    for (const [key, words, first, choices] of [
      ["hit", t("Hit on"), t("as it is: {}", cue.at), cue.hits], ["hold", t("Hold"), t("as it is: {}", cue.hold), data.holds],
      ["facing", t("Facing"), t("as it is: {}", cue.facing), data.facings],
      ["pose", t("Another pose"), t("as it is: {}", cue.name), data.poses]]) {
      const [label, select] = choice(words, first, choices);
      wishes[key] = select;
      box.append(label);
    }
  }
  const row = element("div", "", { class: "row" });
  row.append(button(t("Keep the remark"), () => {
    const change = {};
    for (const [key, select] of Object.entries(wishes)) if (select.value) change[key] = select.value;
    if (!text.value.trim() && !Object.keys(change).length) { text.focus(); $("told").textContent = t("Write a remark, or choose a change."); return; }
    if (remarks.length >= data.most) { $("told").textContent = t("No more remarks have room: save these first."); return; }
    const id = Array.from(crypto.getRandomValues(new Uint8Array(4)), (b) => b.toString(16).padStart(2, "0")).join("");
    remarks.push({ id, ...target, about, text: text.value.trim(), change, written: new Date().toISOString() });
    keep(false); box.remove(); list(); $("told").textContent = t("Kept: {}. Save the remarks before you close the page.", about);
  }), button(t("Cancel"), () => box.remove()));
  row.firstChild.classList.add("main");
  box.append(row);
  place.append(box);
  text.focus();
}
function list() {
  $("written").replaceChildren(...remarks.map((one) => {
    const item = element("li"), told = Object.entries(one.change).map(([key, value]) => t(key) + ": " + value).join(", ");
    item.append(element("strong", one.about), element("p", one.text), element("p", told, { class: "dim" }),
      button(t("Delete"), () => { remarks = remarks.filter((other) => other !== one); keep(false); list(); }, t("Delete the remark on {}", one.about)));
    return item;
  }));
  $("none").hidden = remarks.length > 0;
  $("save").disabled = $("copy").disabled = !remarks.length;
}
function file() {
  const author = $("author").value.trim();
  return JSON.stringify({ format: 1, remarks_on: data.routine, base: data.base, title: data.title, author,
    remarks: remarks.map(({ about, ...one }) => one) }, null, 1) + "\n";
}
function save() {
  const link = element("a", "", { download: data.file });
  link.href = URL.createObjectURL(new Blob([file()], { type: "application/json" }));
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  $("told").textContent = t("Saved as {}.", data.file);
}
async function copy() {
  $("textbox").hidden = false;
  $("text").value = file();
  $("text").select();
  try { await navigator.clipboard.writeText($("text").value); $("told").textContent = t("Copied."); }
  catch (error) { $("told").textContent = t("The text is marked below: copy it."); }
}

/* -- putting it together ------------------------------------------------------------------------ */
function card(cue) {
  const item = element("li"), box = element("div", "", { class: "card" }), words = element("div");
  if (cue.photo) box.append(element("img", "", { src: cue.photo, alt: cue.name }));
  else { const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg"); svg.setAttribute("role", "img"); draw(svg, frames[cue.still], cue.name); box.append(svg); }
  words.append(element("h3", cue.number + "  " + cue.name),
    element("p", [cue.at, t("hold {}", cue.hold), cue.facing, cue.level, cue.place].filter(Boolean).join(" · ")));
  if (cue.note) words.append(element("p", cue.note, { class: "dim" }));
  const moves = element("ol", "", { class: "moves" });
  for (const move of cue.moves) {
    const line = element("li", move.text + ", " + move.length);
    line.append(button(t("Remark"), () => form(item, move.text + t(" before {}", cue.name), { move: move.id }, null), t("Remark on the move {}", move.text)));
    moves.append(line);
  }
  const row = element("div", "", { class: "row" });
  row.append(button(t("Play from here"), () => { $("part").selectedIndex = 0; seek(Math.max(0, cue.start - 1)); if (audio.paused) toggle(); }, t("Play from before {}", cue.name)),
    button(t("Remark"), () => form(item, cue.at + " " + cue.name, { pose: cue.id }, cue), t("Remark on {}", cue.name)));
  if (cue.moves.length) words.append(moves);
  words.append(row);
  box.append(words);
  item.append(box);
  return item;
}
const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (texts.nextNode()) { const node = texts.currentNode; if (node.parentElement.tagName === "SCRIPT") continue; const text = node.data.trim(); if (data.words[text]) node.data = node.data.replace(text, () => data.words[text]); }
for (const one of document.querySelectorAll("[aria-label]")) one.setAttribute("aria-label", t(one.getAttribute("aria-label")));
$("title").textContent = data.title;
$("about").textContent = data.about;
$("poses").append(...cues.map(card));
for (const one of data.parts) $("part").append(new Option(one.name));
for (let percent = 100; percent >= 40; percent -= 5) $("speed").append(new Option(percent + " %", percent));
$("seek").max = data.length;
$("play").addEventListener("click", toggle);
$("back").addEventListener("click", () => to(-1));
$("on").addEventListener("click", () => to(1));
$("seek").addEventListener("input", () => seek(Number($("seek").value)));
$("speed").addEventListener("change", () => speed(Number($("speed").value)));
$("part").addEventListener("change", () => seek(part().start));
$("here").addEventListener("click", () => {
  const time = audio.currentTime, beat = after(data.beats, time) - 1;
  const about = clock(time) + (beat >= 0 && data.counts[beat] ? ", " + t("count {}", data.counts[beat]) : "");
  audio.pause();
  form($("herebox"), about, { time: Math.round((time + data.start) * 1000) / 1000 }, null);
});
$("save").addEventListener("click", save);
$("copy").addEventListener("click", copy);
$("author").addEventListener("input", () => keep(false));
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input, select, textarea")) return;
  const key = event.key;
  if (key === " " && !event.target.closest("button")) toggle();
  else if (key === "ArrowLeft") to(-1);
  else if (key === "ArrowRight") to(1);
  else if (key === "-") speed(Number($("speed").value) - 5);
  else if (key === "+" || key === "=") speed(Number($("speed").value) + 5);
  else if (key === "l" || key === "L") $("loop").checked = !$("loop").checked;
  else return;
  event.preventDefault();
});
keep(true);
list();
show(0);
