"use strict";
// Paints what it is told (daemon/faces/pictured.py); decides nothing but that it hears nothing.
const SILENT_MS = 1000;
const UNHEARD = {
  largest: "NO SIGNAL", second: "", third: "the program is not heard", shape: "✗", tone: "bad", value: false,
  say: "", stand: "", progress: 0, bolts: null, rows: [], notices: [], buttons: [],
};
const LOST = { leads: false, tones: [[220, 220, 500]], buzz: [600], words: "no signal" };
const LOST_AGAIN_MS = 3000;
const HIGH = 1.24; // of its box's height: digits and capitals need no room for descenders
const LONG = 120; // characters that are said in smaller letters
const at = (id) => document.getElementById(id);
const token = location.hash.slice(1) || sessionStorage.getItem("token") || "";
if (location.hash) {
  sessionStorage.setItem("token", token);
  history.replaceState(null, "", "/");
}
let newest = UNHEARD, heard = performance.now(), source = null, sound = null, awake = null;
let lost = -Infinity, buttons = "", drawn = "null";

function listen() {
  if (source) source.close();
  source = new EventSource("/pictures");
  source.onmessage = (message) => {
    heard = performance.now();
    newest = JSON.parse(message.data);
    lost = -Infinity;
    show(newest);
  };
  source.addEventListener("cue", (message) => signal(JSON.parse(message.data)));
  source.onerror = () => { if (source.readyState === EventSource.CLOSED) setTimeout(listen, 1000); };
}

function put(id, text) { const where = at(id); if (where.textContent !== text) where.textContent = text; }

// The largest line as large as the screen has room: a text that is too wide or too high shrinks.
function fit(id) {
  const where = at(id), high = `${where.clientHeight}px`;
  where.style.fontSize = "";
  if (id === "large") where.style.lineHeight = high;
  if (parseFloat(getComputedStyle(where).fontSize) > HIGH * where.clientHeight) where.style.fontSize = high;
  const room = 0.97 * where.clientWidth, wanted = where.scrollWidth;
  if (wanted > room) {
    const size = parseFloat(getComputedStyle(where).fontSize);
    where.style.fontSize = `${Math.floor(size * room / wanted)}px`;
  }
}

function show(told) {
  put("largest", told.largest); put("shape", told.shape);
  put("second", told.second); put("third", told.third);
  const noticed = told.notices.length > 0;
  put("say", noticed ? told.notices.join("; ") : told.say); put("stand", told.stand);
  circle(told.bolts);
  document.body.classList.toggle("said", !told.value);
  document.body.classList.toggle("noticed", noticed);
  document.body.classList.toggle("long", at("say").textContent.length > LONG);
  at("screen").style.setProperty("--top", `${at("top").offsetHeight}px`);
  for (const id of ["large", "second"]) { at(id).className = told.tone; fit(id); }
  at("progress").style.width = `${Math.round(told.progress * 100)}%`;
  rows(told.rows);
  offer(told.buttons);
}

// Bolt 1 at the top, clockwise; the next one is filled.
function circle(bolts) {
  if (JSON.stringify(bolts) === drawn) return;
  drawn = JSON.stringify(bolts);
  at("screen").classList.toggle("bolted", Boolean(bolts));
  const one = (name, given, text = "") => {
    const made = document.createElementNS(at("bolts").namespaceURI, name);
    for (const key in given) made.setAttribute(key, given[key]);
    made.textContent = text;
    return made;
  };
  const marks = bolts ? bolts.marks : [];
  const wide = Math.sin(Math.PI / Math.max(3, marks.length)); // neighbours do not touch
  const radius = Math.min(16, 44 * wide / (1 + wide));
  at("bolts").setAttribute("aria-label", bolts ? bolts.name : "");
  at("bolts").replaceChildren(...marks.flatMap((mark, place) => {
    const turn = 2 * Math.PI * place / marks.length, away = 49 - radius;
    const [x, y] = [50 + away * Math.sin(turn), 50 - away * Math.cos(turn)];
    const kind = place === bolts.next ? "next" : "";
    return [
      one("circle", { cx: x, cy: y, r: radius, class: kind }),
      one("text", { x, y, "font-size": radius * 1.3, class: kind }, mark),
    ];
  }));
}

function rows(given) {
  const made = given.map((row) => {
    const line = document.createElement("tr");
    line.className = `${row.now ? "now" : ""} ${row.alarm ? "alarm" : ""}`;
    for (const text of [row.name, row.mark, row.angle, row.state]) {
      line.insertCell().textContent = text;
    }
    return line;
  });
  at("rows").tBodies[0].replaceChildren(...made);
}

function offer(given) {
  const told = JSON.stringify(given);
  if (!token || told === buttons) return;
  buttons = told;
  at("buttons").replaceChildren(...given.map((each) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = each.name;
    button.onclick = (event) => { event.stopPropagation(); ask(each); };
    return button;
  }));
}

async function ask(what) {
  const args = { ...what.args };
  for (const key of what.ask) {
    const given = prompt({ by: "Your name", reason: "Why it may stay as it is", nose: "up or down" }[key]);
    if (!given) return;
    args[key] = given;
  }
  const body = JSON.stringify({
    id: crypto.getRandomValues(new Uint32Array(4)).join("-"),
    kind: what.kind, args, seen: newest.seen, until: newest.t_ns + 5e9,
  });
  try {
    const answer = await fetch("/ask", {
      method: "POST", body, signal: AbortSignal.timeout(5000),
      headers: { "Authorization": `Bearer ${token}`, "Content-Type": "application/json" },
    });
    const told = await answer.json();
    say(told.result === "done" ? "" : `${told.result}: ${told.say}`);
  } catch (error) {
    say("not done: the program is not heard");
  }
}

function say(text) {
  put("words", text);
  if (text) setTimeout(() => put("words", ""), 5000);
}

// What begins now: heard, felt and seen; what leads a hand is only heard.
function signal(cue) {
  if (!cue.leads) {
    document.body.classList.add("flash");
    setTimeout(() => document.body.classList.remove("flash"), 300);
  }
  if (!sound) return;
  let when = sound.currentTime;
  for (const [first, last, ms] of cue.tones) {
    const end = when + ms / 1000;
    if (first) {
      const tone = sound.createOscillator(), loud = sound.createGain();
      tone.frequency.setValueAtTime(first, when); tone.frequency.linearRampToValueAtTime(last, end);
      loud.gain.value = 0.5;
      tone.connect(loud).connect(sound.destination);
      tone.start(when); tone.stop(end);
    }
    when = end;
  }
  if (navigator.vibrate && cue.buzz.length) navigator.vibrate(cue.buzz);
  if (cue.words && window.speechSynthesis) {
    speechSynthesis.cancel();
    speechSynthesis.speak(new SpeechSynthesisUtterance(cue.words));
  }
}

async function tap() {
  if (sound) { await sound.close(); sound = null; } else { sound = new AudioContext(); await sound.resume(); stay(); }
  at("sound").setAttribute("aria-pressed", String(Boolean(sound)));
  put("sound", sound ? "sound on" : "tap: sound");
}

// A phone sleeps after half a minute; only a page over TLS (or on this machine) may keep it awake.
async function stay() {
  if (!navigator.wakeLock) { say("this phone may sleep: set its screen to stay on"); return; }
  try { awake = await navigator.wakeLock.request("screen"); } catch (error) { say("this phone may sleep"); }
}

at("screen").onclick = () => { if (!sound) tap(); };
at("sound").onclick = (event) => { event.stopPropagation(); tap(); };
at("light").onclick = (event) => {
  event.stopPropagation();
  const night = document.body.classList.toggle("night");
  document.body.classList.toggle("day", !night);
  put("light", night ? "night" : "day");
};
document.addEventListener("visibilitychange", () => { if (!document.hidden && sound) stay(); });
window.addEventListener("resize", () => show(newest));
setInterval(() => {
  const now = performance.now();
  if (now - heard <= SILENT_MS || newest.over) return;
  show({ ...newest, ...UNHEARD });
  if (now - lost <= LOST_AGAIN_MS) return;
  const words = lost < 0 ? LOST.words : "";
  lost = now;
  signal({ ...LOST, words });
}, 100);
listen();
