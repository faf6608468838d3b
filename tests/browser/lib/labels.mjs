// Whether the text of a picture can be read: it lies inside the picture, on no other text, and stands out from what is painted behind it.

/** Evaluated in the page: what is wrong with the place of any label of any picture. */
export function misplacedLabels() {
  // a line box is higher than the letters in it: nothing is inked in its uppermost part
  const EMPTY_HEAD = 0.17;
  const TOUCHING = 0.5;
  const inked = (text) => {
    const box = text.getBoundingClientRect();
    return { words: text.textContent.trim(), left: box.left, right: box.right, top: box.top + EMPTY_HEAD * box.height, bottom: box.bottom };
  };
  const overlap = (one, other) =>
    Math.min(one.right, other.right) - Math.max(one.left, other.left) > TOUCHING &&
    Math.min(one.bottom, other.bottom) - Math.max(one.top, other.top) > TOUCHING;
  const isOutside = (label, frame) =>
    label.left < frame.left - TOUCHING ||
    label.right > frame.right + TOUCHING ||
    label.top < frame.top - TOUCHING ||
    label.bottom > frame.bottom + TOUCHING;

  const faultsOf = (svg) => {
    const name = svg.querySelector("title").id.replace(/-title$/, "");
    const frame = svg.getBoundingClientRect();
    const labels = [...svg.querySelectorAll("text")].map(inked);
    const outside = labels.filter((label) => isOutside(label, frame)).map((label) => `${name}: “${label.words}” leaves the picture`);
    const onOthers = labels.flatMap((one, i) =>
      labels.slice(i + 1).filter((other) => overlap(one, other)).map((other) => `${name}: “${one.words}” lies on “${other.words}”`),
    );
    return [...outside, ...onOthers];
  };
  return [...document.querySelectorAll("svg")].flatMap(faultsOf);
}

/**
 * The labels of every picture that do not stand out from what is painted behind them by the ratio that WCAG 2 asks of text of their size.
 * The pictures are laid side by side for one photograph; `easel` is a page that takes it apart.
 */
export async function faintLabels(page, easel) {
  await page.evaluate(laySideBySide);
  const labels = await page.evaluate(labelsOfPictures);
  await page.addStyleTag({ content: "svg text{visibility:hidden}" });
  const behind = (await page.screenshot({ fullPage: true })).toString("base64");
  return easel.evaluate(faintOnes, { behind, labels });
}

function laySideBySide() {
  const board = document.createElement("div");
  board.style.cssText = "display:grid;grid-template-columns:repeat(auto-fill,440px);align-items:start";
  board.append(...document.querySelectorAll("svg"));
  board.querySelectorAll("svg").forEach((svg) => (svg.style.cssText = "width:440px;max-width:none;max-height:none"));
  document.body.style.cssText = "max-width:none;padding:0;margin:0";
  document.body.replaceChildren(board);
}

function labelsOfPictures() {
  const LARGE = 24;
  const LARGE_IF_BOLD = 18.66;
  return [...document.querySelectorAll("svg")].flatMap((svg) => {
    const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
    const name = svg.querySelector("title").id.replace(/-title$/, "");
    return [...svg.querySelectorAll("text")].map((text) => {
      const box = text.getBoundingClientRect();
      const style = getComputedStyle(text);
      const size = parseFloat(style.fontSize) * scale;
      const isLarge = size >= LARGE || (size >= LARGE_IF_BOLD && Number(style.fontWeight) >= 700);
      return {
        words: `${name}: “${text.textContent.trim()}”`,
        colour: style.fill.match(/[\d.]+/g).slice(0, 3).map(Number),
        wanted: isLarge ? 3 : 4.5,
        box: [box.left + scrollX, box.top + scrollY, box.width, box.height].map(Math.round),
      };
    });
  });
}

async function faintOnes({ behind, labels }) {
  // grid lines and thin marks may cross a label; what most of it stands on may not be close to its own colour
  const CROSSED_AT_MOST = 0.1;
  const image = new Image();
  image.src = `data:image/png;base64,${behind}`;
  await image.decode();
  const canvas = document.createElement("canvas");
  canvas.width = image.width;
  canvas.height = image.height;
  const painter = canvas.getContext("2d", { willReadFrequently: true });
  painter.drawImage(image, 0, 0);

  const linear = (channel) => (channel <= 0.04045 * 255 ? channel / 255 / 12.92 : ((channel / 255 + 0.055) / 1.055) ** 2.4);
  const luminance = ([red, green, blue]) => 0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue);
  const contrast = (one, other) => {
    const [darker, lighter] = [luminance(one), luminance(other)].sort((a, b) => a - b);
    return (lighter + 0.05) / (darker + 0.05);
  };
  const share = (label) => {
    const [left, top, width, height] = label.box;
    const data = painter.getImageData(left, top, Math.max(width, 1), Math.max(height, 1)).data;
    const number = data.length / 4;
    let faint = 0;
    for (let i = 0; i < data.length; i += 4) {
      if (contrast(label.colour, data.subarray(i, i + 3)) < label.wanted) faint += 1;
    }
    return faint / number;
  };
  return labels
    .map((label) => ({ label, faint: share(label) }))
    .filter(({ faint }) => faint > CROSSED_AT_MOST)
    .map(({ label, faint }) => `${label.words} is hard to read on ${Math.round(100 * faint)} % of its ground`);
}
