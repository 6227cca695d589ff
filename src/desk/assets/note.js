// The note: copying a part of it or the whole, and opening the form of the passage that has the focus.
import { all, one, key, tell, trouble, words } from "./desk.js";

// The words as they stand, a line a paragraph; cells of a table parted by tabs.
function textOf(place) {
  const line = (e) => (e.matches("tr") ? all("th, td", e).map((c) => c.innerText.trim()).join("\t") : e.innerText.trim());
  const own = all(".copied", place).filter((e) => !e.closest("details:not([open])"));
  const title = one("h2", place);
  const start = title && place.matches("section") ? [title.innerText.trim()] : [];
  return [...start, ...own.map(line)].join("\n");
}

async function copy(place) {
  try {
    await navigator.clipboard.writeText(textOf(place));
    tell(words.copied);
  } catch {
    getSelection().selectAllChildren(place);
    trouble(words.notCopied);
  }
}

for (const button of all("[data-copy]")) {
  button.addEventListener("click", () => copy(document.getElementById(button.dataset.copy)));
}
key("c", () => copy(one("#whole")));

// The passage in focus, else the first one on the screen.
key("e", () => {
  const forms = all(".worded details");
  const near = document.activeElement?.closest(".worded")?.querySelector("details");
  const form = near ?? forms.find((d) => d.getBoundingClientRect().top > 0);
  if (!form) return;
  form.open = true;
  one("textarea", form).focus();
});
