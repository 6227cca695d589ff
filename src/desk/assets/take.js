// Photographs taken one after the other: each is sent, and what it got and what is missing is told.
import { all, one, token, trouble, words } from "./desk.js";
import { sent } from "./send.js";

const taking = one("#taking");
const list = one("#taken");

// Photographs of one picture have one group; it outlives a page that is loaded anew.
const kept = (name, value) => {
  try {
    if (value !== undefined) sessionStorage.setItem(name, value);
    return sessionStorage.getItem(name);
  } catch {
    return null;
  }
};
const fresh = () => String(Date.now() % 1e12);
const of = taking.dataset.picture;
let group = (kept("dorso-of") === of && kept("dorso-group")) || fresh();
kept("dorso-of", of);
kept("dorso-group", group);

async function visit() {
  if (taking.dataset.visit) return taking.dataset.visit;
  const begun = await fetch("/visit/0", {
    method: "POST",
    headers: { Accept: "application/json" },
    body: new URLSearchParams({ token: token() }),
  });
  taking.dataset.visit = String((await begun.json()).visit);
  return taking.dataset.visit;
}

function item(text) {
  const made = document.createElement("li");
  made.textContent = text;
  return made;
}

// Longest side of a photograph in the list, px.
const SMALL = 240;

// A photograph in the list, and the place where what it got is told.
function shown(file) {
  const made = document.createElement("li");
  const picture = document.createElement("canvas");
  picture.width = picture.height = SMALL;
  createImageBitmap(file).then((whole) => {
    const by = SMALL / Math.max(whole.width, whole.height);
    picture.width = Math.round(whole.width * by);
    picture.height = Math.round(whole.height * by);
    picture.getContext("2d").drawImage(whole, 0, 0, picture.width, picture.height);
    whole.close();
  }).catch(() => picture.remove()); // a format that this browser doesn't show
  const told = document.createElement("div");
  told.textContent = `${words.sending} ${file.name}`;
  made.append(picture, told);
  list.prepend(made);
  return told;
}

async function advised(hash, told) {
  told.textContent = words.looking;
  const answer = await fetch(`/taken/${hash}`, { headers: { Accept: "application/json" } });
  const got = await answer.json();
  if (got.refused) {
    told.textContent = got.refused;
    return;
  }
  const sentences = document.createElement("ul");
  sentences.append(...got.sentences.map(item));
  const first = document.createElement("strong");
  first.textContent = got.words;
  told.replaceChildren(first, sentences);
  one("#todo").textContent = got.sentences[0] ?? words.nothingAsked;
}

async function take(files) {
  for (const file of files) {
    const told = shown(file);
    try {
      const about = new URLSearchParams({
        name: file.name, group, picture: of || lot(), visit: await visit(),
      });
      const answer = await sent(about, file);
      if (answer.taken) await advised(answer.photograph, told);
      else told.textContent = `${file.name} ${words.notTaken} ${answer.refused}`;
    } catch {
      told.textContent = `${file.name} ${words.notTaken} ${words.notSaved}`;
    }
  }
  state();
}

const lot = () => {
  const typed = one("#lot").value.trim();
  return typed && `${words.lot} ${typed}`;
};

async function state() {
  let now;
  try {
    now = await (await fetch(`/take/state?group=${group}`, { headers: { Accept: "application/json" } })).json();
  } catch {
    return; // asked again in a moment
  }
  one("#next").hidden = !list.children.length && !now.picture;
  if (!now.picture) return;
  const questions = one("#questions");
  questions.href = `/settle?picture=${now.picture}`;
  questions.textContent = now.questions;
  questions.hidden = now.due === 0 || now.waiting > 0;
  const note = one("#to-note");
  note.href = `/picture/${now.picture}/note`;
  note.hidden = now.waiting > 0;
  const far = one("#far");
  if (far.textContent !== now.words) far.textContent = now.words;
  one("#missing").hidden = now.missing.length === 0;
  const marks = now.missing.map((m) => m.mark).join();
  const place = one("#missing-list");
  if (place.dataset.marks === marks) return;
  place.dataset.marks = marks;
  place.replaceChildren(...now.missing.map((m) => {
    const made = document.createElement("li");
    const crop = document.createElement("img");
    crop.src = m.crop;
    crop.alt = m.read;
    const told = document.createElement("div");
    told.textContent = m.words.join(" ");
    if (m.plan) made.append(plan(m.plan));
    made.append(crop, told);
    return made;
  }));
}

// The back, small, with the mark's outline.
function plan({ src, size, corners }) {
  const svg = (name, about) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(about)) made.setAttribute(key, value);
    return made;
  };
  const made = svg("svg", { viewBox: `0 0 ${size[0]} ${size[1]}`, class: "plan", "aria-hidden": "true" });
  made.append(
    svg("image", { href: src, width: size[0], height: size[1] }),
    svg("polygon", { points: corners, class: "under" }),
    svg("polygon", { points: corners, class: "line" }),
  );
  return made;
}

async function keepLot() {
  const now = await (await fetch(`/take/state?group=${group}`, { headers: { Accept: "application/json" } })).json();
  if (!now.picture) return;
  await fetch(`/visit/${await visit()}`, {
    method: "POST",
    headers: { Accept: "application/json" },
    body: new URLSearchParams({ token: token(), picture: now.picture, lot: one("#lot").value }),
  }).catch(() => trouble(words.notSaved));
}

for (const input of all("#shot, #chosen")) {
  input.addEventListener("change", () => {
    const files = [...input.files];
    input.value = "";
    take(files);
  });
}
one("#lot").addEventListener("change", keepLot);
one("#next").addEventListener("click", () => {
  keepLot();
  group = fresh();
  kept("dorso-group", group);
  list.replaceChildren();
  for (const id of ["#missing", "#questions", "#to-note", "#next"]) one(id).hidden = true;
  one("#lot").value = "";
  one("#todo").textContent = words.wholeFirst;
  one("#far").textContent = "";
  one("#shot").focus();
});
setInterval(state, 2000);
state();
