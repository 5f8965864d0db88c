// Puts a scene on a canvas. It knows shapes and nothing of tracings.

export function paint(canvas, scene, font, ratio = globalThis.devicePixelRatio || 1) {
  const width = Math.round(scene.width * ratio);
  const height = Math.round(scene.height * ratio);
  if (canvas.width !== width) canvas.width = width;
  if (canvas.height !== height) canvas.height = height;
  canvas.style.width = `${scene.width}px`;
  canvas.style.height = `${scene.height}px`;
  const pen = canvas.getContext("2d");
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.fillStyle = "#FFFFFF";
  pen.fillRect(0, 0, scene.width, scene.height);
  for (const pane of scene.panes) {
    pen.save();
    pen.translate(scene.left, pane.top);
    pen.save();
    pen.beginPath();
    pen.rect(0, 0, scene.paneWidth, pane.height);
    pen.clip();
    for (const item of pane.inside) draw(pen, item, font);
    pen.restore();
    if (pane.framed) {
      pen.strokeStyle = scene.frame;
      pen.lineWidth = 1;
      pen.strokeRect(0, 0, scene.paneWidth, pane.height);
    }
    for (const item of pane.beside) draw(pen, item, font);
    pen.restore();
  }
}

function draw(pen, item, font) {
  if (item.kind === "line") drawLine(pen, item);
  else if (item.kind === "box") drawBox(pen, item);
  else if (item.kind === "word") drawWord(pen, item, font);
  else drawShape(pen, item);
}

function drawLine(pen, { points, colour, width, dash }) {
  pen.beginPath();
  let down = false;
  for (const point of points) {
    if (point === null) down = false;
    else if (down) pen.lineTo(point[0], point[1]);
    else {
      pen.moveTo(point[0], point[1]);
      down = true;
    }
  }
  pen.strokeStyle = colour;
  pen.lineWidth = width;
  pen.setLineDash(dash);
  pen.lineCap = dash.length ? "butt" : "round";
  pen.lineJoin = "bevel"; // round ones take several times as long
  pen.stroke();
  pen.setLineDash([]);
}

function drawBox(pen, { x, y, width, height, colour, opacity }) {
  pen.globalAlpha = opacity;
  pen.fillStyle = colour;
  pen.fillRect(x, y, width, height);
  pen.globalAlpha = 1;
}

function drawWord(pen, { x, y, text, colour, size, anchor, bold, italic, halo }, font) {
  pen.font = `${italic ? "italic " : ""}${bold ? "bold " : ""}${size}px ${font}`;
  pen.textAlign = { start: "left", middle: "center", end: "right" }[anchor];
  pen.textBaseline = "alphabetic";
  if (halo) {
    pen.strokeStyle = "#FFFFFF";
    pen.lineWidth = 4;
    pen.lineJoin = "round";
    pen.strokeText(text, x, y + 0.35 * size);
  }
  pen.fillStyle = colour;
  pen.fillText(text, x, y + 0.35 * size);
}

function drawShape(pen, { x, y, form, size, colour }) {
  const half = size / 2;
  pen.beginPath();
  if (form === "cross") {
    pen.moveTo(x - half, y - half);
    pen.lineTo(x + half, y + half);
    pen.moveTo(x - half, y + half);
    pen.lineTo(x + half, y - half);
    pen.strokeStyle = colour;
    pen.lineWidth = 2;
    pen.stroke();
    return;
  }
  const [foot, tip] = form === "down" ? [y - half, y + half] : [y + half, y - half];
  pen.moveTo(x - half, foot);
  pen.lineTo(x + half, foot);
  pen.lineTo(x, tip);
  pen.closePath();
  pen.fillStyle = colour;
  pen.fill();
}
