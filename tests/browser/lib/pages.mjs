// What must hold of a whole page; each function is evaluated in the page and gives its faults.

/** Elements that a reader at this width must scroll the whole page for; what lies in a box that scrolls by itself is reached there. */
export function reachingOut() {
  const room = document.documentElement.clientWidth;
  const scrollsByItself = (element) => ["auto", "scroll"].includes(getComputedStyle(element).overflowX);
  const isInScrollBox = (element) => {
    for (let box = element.parentElement; box !== null && box !== document.body; box = box.parentElement) {
      if (scrollsByItself(box)) return true;
    }
    return false;
  };
  const isMeantToHide = (element) => element.matches(".skip, title, desc, style, head *");
  const reachesOut = (element) => !isMeantToHide(element) && element.getBoundingClientRect().right > room + 0.5 && !isInScrollBox(element);
  const faults = [...document.body.querySelectorAll("*")]
    .filter((element) => reachesOut(element) && !reachesOut(element.parentElement))
    .map((element) => `${element.tagName} “${element.textContent.trim().slice(0, 40)}” ends at ${element.getBoundingClientRect().right}`);
  const overflow = document.documentElement.scrollWidth - room;
  return overflow > 0 ? [...faults, `the page scrolls sideways by ${overflow} px`] : faults;
}

/** Boxes whose content is wider than they are and which no key reaches. */
export function unreachableBoxes() {
  const isWider = (element) => element.scrollWidth > element.clientWidth + 1;
  const scrolls = (element) => ["auto", "scroll"].includes(getComputedStyle(element).overflowX);
  return [...document.body.querySelectorAll("*")]
    .filter((element) => isWider(element) && scrolls(element) && element.tabIndex !== 0)
    .map((element) => element.outerHTML.slice(0, 100));
}

export function headingFaults() {
  const headings = [...document.querySelectorAll("h1,h2,h3,h4,h5,h6")];
  const levels = headings.map((heading) => Number(heading.tagName[1]));
  const faults = levels
    .map((level, i) => (level > (levels[i - 1] ?? 0) + 1 ? `“${headings[i].textContent}” jumps to level ${level}` : ""))
    .filter((fault) => fault !== "");
  const tops = levels.filter((level) => level === 1).length;
  return tops === 1 ? faults : [...faults, `${tops} headings of level 1`];
}

export function pictureFaults() {
  const textOf = (svg, selector) => svg.querySelector(`:scope > ${selector}`)?.textContent.trim() ?? "";
  return [...document.querySelectorAll("svg")].flatMap((svg) => {
    const named = (svg.getAttribute("aria-labelledby") ?? "").split(" ").map((id) => document.getElementById(id));
    const name = textOf(svg, "title") || "a picture without a title";
    return [
      svg.getAttribute("role") === "img" ? "" : `${name}: no role`,
      textOf(svg, "desc") === "" ? `${name}: no description` : "",
      named.length === 2 && named.every((element) => svg.contains(element)) ? "" : `${name}: is not labelled by its title and description`,
      svg.closest("figure")?.querySelector("figcaption")?.textContent.trim() ? "" : `${name}: no caption`,
    ].filter((fault) => fault !== "");
  });
}

export function tableFaults() {
  return [...document.querySelectorAll("table")].flatMap((table) => {
    const caption = table.caption?.textContent.trim() ?? "";
    const name = caption || table.textContent.trim().slice(0, 40);
    const unscoped = [...table.querySelectorAll("th:not([scope])")].map((cell) => `${name}: heading “${cell.textContent}” has no scope`);
    const headless = [...table.tBodies].flatMap((body) => [...body.rows]).filter((row) => row.cells.length > 1 && row.querySelector("th") === null);
    return [
      ...(caption === "" ? [`${name}: no caption`] : []),
      ...unscoped,
      ...headless.map((row) => `${name}: row “${row.textContent.trim().slice(0, 40)}” has no heading`),
    ];
  });
}

/** What a sheet of paper would cut: parts wider than the sheet, pictures higher than it. */
export function cutByPaper(height) {
  const room = document.documentElement.clientWidth;
  const isPainted = (element) => element.getClientRects().length > 0 && element.closest("svg, .skip") === null;
  const isTooWide = (element) => isPainted(element) && element.getBoundingClientRect().right > room + 0.5;
  const tooWide = [...document.body.querySelectorAll("*")]
    .filter((element) => isTooWide(element) && !isTooWide(element.parentElement))
    .map((element) => `${element.tagName} “${element.textContent.trim().slice(0, 40)}” is too wide by ${Math.ceil(element.getBoundingClientRect().right - room)} px`);
  const frames = [...document.querySelectorAll("svg")];
  const tooHigh = frames
    .filter((svg) => (svg.closest("figure") ?? svg).getBoundingClientRect().height > height)
    .map((svg) => `${svg.querySelector("title").textContent} is too high`);
  const outside = frames
    .filter((svg) => svg.getBoundingClientRect().right > room + 0.5)
    .map((svg) => `${svg.querySelector("title").textContent} is too wide`);
  return [...tooWide, ...tooHigh, ...outside];
}

/** The colours of page and text, and of the first mark of every ink in the pictures. */
export function coloursShown() {
  const inks = [...document.querySelectorAll("svg [class^='f-'], svg [class^='s-']")];
  const byClass = new Map(inks.map((mark) => [mark.getAttribute("class"), mark]));
  const painted = [...byClass].map(([name, mark]) => [name, getComputedStyle(mark)[name.startsWith("f-") ? "fill" : "stroke"]]);
  const body = getComputedStyle(document.body);
  return Object.fromEntries([["page", body.backgroundColor], ["text", body.color], ...painted]);
}
