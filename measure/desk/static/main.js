// Sets the page up and keeps it in step with the server.

import { changed, desk, notice, onChange, photo, photos, recall, selected, speak } from "./desk.js";
import { listenToKeys, moveAim, showHelp } from "./keys.js";
import { Link } from "./link.js";
import { followRecord, marking, redo, redoName, undo, undoName } from "./marking.js";
import { openFiles, paintPanel, paintReading } from "./panels/panels.js";
import { lastWord, paintTrouble } from "./panels/trouble.js";
import * as acts from "./stage/acts.js";
import { Gestures } from "./stage/gestures.js";
import { Loupe } from "./stage/loupe.js";
import { paintOverlay } from "./stage/overlay.js";
import { View } from "./stage/view.js";

const $ = (id) => document.getElementById(id);

function setLight() {
  const chosen = localStorage.getItem("desk-light");
  if (chosen) document.documentElement.dataset.light = chosen;
  $("light").onclick = () => {
    const dark = getComputedStyle(document.documentElement).getPropertyValue("--dark").trim() === "1";
    const next = dark ? "light" : "dark";
    document.documentElement.dataset.light = next;
    localStorage.setItem("desk-light", next);
    ground();
  };
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", ground);
}

function ground() {
  desk.view.ground = getComputedStyle(document.documentElement).getPropertyValue("--ground").trim();
  desk.view.sheet.key = "";
  desk.view.draw();
}

// The record on the desk is another one: nothing that is known of the former holds of it.
function forgetRecord() {
  Object.assign(desk, {
    state: { ...desk.state, photos: [] },
    photo: null,
    selected: null,
    active: null,
    mark: null,
    live: null,
    scaleChoice: null,
  });
  desk.view.forget();
  dropFirst();
}

// Tell what happened in the background, each thing once; what went well before the page was open is no news.
function tellNotices(state, first) {
  for (const { id, text, wrong } of state.notices ?? []) {
    if (seen.has(id)) continue;
    seen.add(id);
    if (!first || wrong) notice(text, wrong ? "wrong" : "note");
  }
}

// A newly opened photo is shown; of several the first.
function choosePhoto(fresh) {
  if (photo() && !(desk.jump && fresh.length)) return;
  desk.photo = (fresh[0] ?? photos()[0])?.id ?? null;
  desk.jump = false;
}

function onState(state) {
  if (desk.state && state.laid !== desk.state.laid) forgetRecord();
  const known = new Set(photos().map((one) => one.id));
  const first = !desk.state;
  desk.state = state;
  desk.trouble = state.trouble;
  tellNotices(state, first);
  choosePhoto(photos().filter((one) => !known.has(one.id)));
  if (desk.selected && !selected()) desk.selected = null;
  followRecord(state.measurements);
  tellVerdict(state, first);
  changed();
}

const seen = new Set();
let verdict = "";

// A new verdict is announced wherever the user is.
function tellVerdict(state, first) {
  const headline = state.verdict?.headline ?? "";
  if (!state.judging && headline !== verdict) {
    verdict = headline;
    if (headline && !first) speak(`Verdict: ${headline}`, "verdict");
  }
}

function paintBar(empty) {
  const { state } = desk;
  $("title").textContent = state.name || "Cardspan";
  document.title = state.name ? `${state.name} – Cardspan desk` : "Cardspan desk";
  $("saved").hidden = empty;
  $("saved").textContent = state.saved.text;
  $("saved").title = state.record ? `Kept in ${state.record}` : "";
  $("saved").className = `saved ${state.saved.mark}`;
  for (const [id, verb, name] of [
    ["undo", "Undo", undoName()],
    ["redo", "Redo", redoName()],
  ]) {
    $(id).disabled = !name;
    $(id).title = name ? `${verb}: ${name}` : `Nothing to ${id}`;
    $(id).hidden = empty && !name;
  }
}

function waitingText(shot) {
  if (shot?.looking) return "Looking for the card…";
  if (shot && shot.stage !== "ready" && shot.stage !== "failed") return "Opening the photo…";
  return desk.state.opening.length ? "Opening…" : "";
}

function paintStage() {
  const shot = photo();
  if (shot?.width) desk.view.setPhoto(shot);
  if (photos().length + desk.state.opening.length !== 1) dropFirst();
  const waiting = waitingText(shot);
  $("looking").hidden = !waiting;
  $("looking-text").textContent = waiting;
  $("stage").setAttribute("aria-label", shot ? `Photo ${shot.name}` : "No photo yet");
  $("stage").classList.toggle("marking", Boolean(marking()));
}

// While a point is dragged only the length and the lines change.
const dragging = () => desk.active?.what === "end" && desk.live?.id && desk.step === "measure";

function refresh() {
  if (!desk.state) return;
  if (dragging()) {
    paintReading();
    paintOverlay();
    return;
  }
  paintTrouble();
  const empty = !photos().length && !desk.state.opening.length && desk.step !== "keep";
  document.body.classList.toggle("starting", empty);
  $("start").hidden = !empty;
  paintBar(empty);
  paintStage();
  paintPanel();
  paintOverlay();
  moveAim();
}

function listenToDrops() {
  addEventListener("dragover", (event) => {
    event.preventDefault();
    document.body.classList.add("dropping");
  });
  addEventListener("dragleave", (event) => {
    if (!event.relatedTarget) document.body.classList.remove("dropping");
  });
  addEventListener("drop", (event) => {
    event.preventDefault();
    document.body.classList.remove("dropping");
    openFiles([...event.dataTransfer.files]);
  });
  addEventListener("paste", (event) => {
    const files = [...(event.clipboardData?.files ?? [])];
    if (files.length) openFiles(files);
  });
  $("file").onchange = () => {
    openFiles([...$("file").files]);
    $("file").value = "";
  };
}

function listenToZooms() {
  $("zooms").onclick = (event) => {
    const how = event.target.closest("[data-zoom]")?.dataset.zoom;
    if (how === "in") desk.view.zoom(1.5);
    if (how === "out") desk.view.zoom(1 / 1.5);
    if (how === "fit") desk.view.fit();
    if (how === "one") desk.view.zoom(1 / desk.view.dpr / desk.view.scale);
  };
}

recall();
desk.view = new View($("stage"), $("picture"), () => {
  if (desk.state) {
    paintOverlay();
    moveAim();
  }
});
// The page brings a coarse view of the photo along; it goes once the pieces that replace it are painted.
const dropFirst = () => $("first")?.remove();
desk.view.onTile = () => {
  if (!performance.getEntriesByName("first tile").length) performance.mark("first tile");
  const { flying, queue } = desk.view.tiles;
  if (flying.size > 1 || queue.length) return;
  desk.view.onTile = null;
  requestAnimationFrame(() => requestAnimationFrame(dropFirst));
};
for (const what of ["pointerdown", "wheel", "keydown"])
  addEventListener(what, dropFirst, { once: true, capture: true });
acts.setLoupe(new Loupe($("loupe"), desk.view));
new Gestures($("stage"), desk.view, acts);
setLight();
ground();
listenToKeys();
listenToDrops();
listenToZooms();
onChange(refresh);
$("undo").onclick = undo;
$("redo").onclick = redo;
$("help").onclick = showHelp;
desk.link = new Link({
  onState,
  onSheet: (sheet) => {
    desk.sheet = sheet;
    changed();
  },
  onTrouble: (text) => {
    desk.trouble = text;
    paintTrouble();
  },
  onLine: (up, unanswered) => {
    if (desk.line && !up) $("line").textContent = lastWord(unanswered);
    desk.line = up;
    $("line").hidden = up || !desk.state;
  },
});
