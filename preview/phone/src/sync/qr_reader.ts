// Reads QR codes from the camera: by the browser itself where it can (Android), else by a library that
// is fetched only then (iPhone, Firefox, computers).

/** The texts of the codes that are in view now. */
export type CodeReader = (screen: HTMLVideoElement) => Promise<string[]>;

interface Detector {
  detect(source: HTMLVideoElement): Promise<{ rawValue: string }[]>;
}
declare const BarcodeDetector:
  | { new (options: { formats: string[] }): Detector; getSupportedFormats(): Promise<string[]> }
  | undefined;

/** Longer side in which the library looks: a joining code has some 50 modules, so 10 pixels for each. */
const most_px = 800;

export function there_may_be_a_camera(): boolean {
  return typeof navigator.mediaDevices?.getUserMedia === "function";
}

async function browsers_reader(): Promise<CodeReader | undefined> {
  try {
    if (typeof BarcodeDetector === "undefined") return undefined;
    if (!(await BarcodeDetector.getSupportedFormats()).includes("qr_code")) return undefined;
    const detector = new BarcodeDetector({ formats: ["qr_code"] });
    return async (screen) => (await detector.detect(screen)).map((one) => one.rawValue);
  } catch {
    return undefined; // said to be there, but without what it needs: some computers
  }
}

async function librarys_reader(): Promise<CodeReader> {
  const { decodeQR } = await import("qr/decode.js");
  const canvas = document.createElement("canvas");
  const drawing = canvas.getContext("2d", { willReadFrequently: true });
  if (!drawing) throw new Error("nothing can be drawn here");
  return async (screen) => {
    const { videoWidth, videoHeight } = screen;
    if (videoWidth === 0) return []; // no picture yet
    const scale = Math.min(1, most_px / Math.max(videoWidth, videoHeight));
    canvas.width = Math.round(videoWidth * scale);
    canvas.height = Math.round(videoHeight * scale);
    drawing.drawImage(screen, 0, 0, canvas.width, canvas.height);
    try {
      return [decodeQR(drawing.getImageData(0, 0, canvas.width, canvas.height))];
    } catch {
      return []; // no code in this picture
    }
  };
}

export async function code_reader(): Promise<CodeReader> {
  return (await browsers_reader()) ?? librarys_reader();
}
