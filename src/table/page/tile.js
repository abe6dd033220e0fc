// Woven cloth on a canvas: the table's tile laid side by side along the lattice, skew and all.

const pictures = new Map();

/**
 * The tile of a cloth as a picture, loaded once.
 * @param {any} cloth as `api/cloths` tells it @param {string} side face or back @param {number} revision
 * @param {() => void} loaded called when it arrives
 * @returns {HTMLImageElement|null} null until it is there
 */
export function tile(cloth, side, revision, loaded) {
  if (cloth.troubles) return null;
  const key = JSON.stringify([cloth.cloth, side, cloth.tile, cloth.pattern, cloth.weave, cloth.colour, revision]);
  let held = pictures.get(key);
  if (!held) {
    if (pictures.size > 24) pictures.clear();
    held = new Image();
    held.addEventListener('load', loaded, { once: true });
    held.src = `api/cloths/${cloth.cloth}/tile.png?side=${side}&r=${revision}`;
    pictures.set(key, held);
  }
  return held.complete && held.naturalWidth ? held : null;
}

/**
 * A fill of woven cloth for a context in millimetres of the cloth, y up.
 * @param {CanvasRenderingContext2D} g @param {any} cloth @param {HTMLImageElement|null} picture
 * @returns {CanvasPattern|string}
 */
export function woven(g, cloth, picture) {
  if (!picture) return cloth.colour ?? '#999';
  const fill = g.createPattern(picture, 'repeat');
  const [across, along] = cloth.tile.sides;
  const [w, t] = [picture.naturalWidth, picture.naturalHeight];
  const at = cloth.tile.at;
  // Columns run along the first side, rows from the far end of the second side down; the corner is a lattice point.
  fill.setTransform(new DOMMatrix([
    across[0] / w, across[1] / w, -along[0] / t, -along[1] / t, at[0] + along[0], at[1] + along[1],
  ]));
  return fill;
}
