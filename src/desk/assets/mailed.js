"use strict";
(() => {
  const body = document.body;
  const questions = [...document.querySelectorAll(".question")];
  const state = document.getElementById("state");
  for (const q of questions) {
    for (const b of q.querySelectorAll("[data-show]")) {
      b.addEventListener("click", () => {
        for (const p of q.querySelectorAll("img")) p.hidden = p.dataset.variant !== b.dataset.show;
        for (const o of q.querySelectorAll("[data-show]")) o.setAttribute("aria-pressed", String(o === b));
      });
    }
    const larger = q.querySelector("[data-larger]");
    larger.addEventListener("click", () => {
      const on = q.querySelector(".pictures").classList.toggle("larger");
      larger.setAttribute("aria-pressed", String(on));
    });
  }
  const answers = () => questions.map((q) => ({
    mark: q.dataset.mark,
    reading: q.querySelector("textarea").value.trim(),
    unreadable: q.querySelector("[data-unreadable]").checked,
    remark: q.querySelector("[data-remark]").value.trim(),
  })).filter((a) => a.reading || a.unreadable);
  const text = () => JSON.stringify({
    format: body.dataset.format, letter: body.dataset.letter,
    by: document.getElementById("who").value.trim(), answers: answers(),
  }, null, 1);
  const fresh = () => {
    document.getElementById("copy").value = text();
    state.textContent = `${answers().length} / ${questions.length} ${body.dataset.left}`;
  };
  document.addEventListener("input", fresh);
  fresh();
  document.getElementById("save").addEventListener("click", () => {
    const who = document.getElementById("who");
    if (!who.value.trim()) {
      state.textContent = body.dataset.named;
      who.focus();
      return;
    }
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text()], { type: "application/json" }));
    link.download = `answers-${body.dataset.letter.slice(0, 8)}.json`;
    body.append(link);
    link.click();
    link.remove();
    state.textContent = body.dataset.saved;
  });
})();
