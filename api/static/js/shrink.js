// @ts-check
/** Photos made smaller before they are sent, where that saves time. */

export const MOST_SIDE_PX = 3200; // what the server keeps on the longer side: settings.max_photo_side_px
export const GUESSED_BYTES_PER_S = 1_000_000; // a crowded hall's Wi-Fi, before anything was measured (estimated)
const BYTES_PER_PX = 0.2; // of a JPEG of quality 0.92; 0.13 to 0.18 on grained photos of dough
export const GUESSED_S_PER_MPX = 0.06; // decode, draw and encode on a phone of today (estimated)
const QUALITY = 0.92;

/** The frame in which the server keeps a photo. @param {{w: number, h: number}} size */
export function framed({ w, h }) {
  const k = Math.min(1, MOST_SIDE_PX / Math.max(w, h));
  return { w: Math.max(1, Math.round(w * k)), h: Math.max(1, Math.round(h * k)) };
}

/**
 * Seconds saved by sending a smaller photo; not above 0: send it as it is.
 * @param {{bytes: number, w: number, h: number, bytesPerS: number | null, sPerMpx: number | null}} known
 */
export function secondsSaved({ bytes, w, h, bytesPerS, sPerMpx }) {
  const to = framed({ w, h });
  if (to.w === w) return 0;
  const fewer = bytes - to.w * to.h * BYTES_PER_PX;
  return fewer / (bytesPerS ?? GUESSED_BYTES_PER_S) - ((w * h) / 1e6) * (sPerMpx ?? GUESSED_S_PER_MPX);
}

/** The photo in the server's frame as JPEG, turned as its EXIF says; null where this browser cannot.
 * @param {Blob} file @returns {Promise<Blob | null>} */
export async function shrunk(file) {
  try {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const { w, h } = framed({ w: picture.width, h: picture.height });
    const canvas = new OffscreenCanvas(w, h);
    const pen = canvas.getContext("2d", { alpha: false });
    if (!pen) return null;
    pen.fillStyle = "#fff"; // the server lays transparent photos on white, too
    pen.fillRect(0, 0, w, h);
    pen.imageSmoothingQuality = "high";
    pen.drawImage(picture, 0, 0, w, h);
    picture.close();
    return await canvas.convertToBlob({ type: "image/jpeg", quality: QUALITY });
  } catch {
    return null;
  }
}
