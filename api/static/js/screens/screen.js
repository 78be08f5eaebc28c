// @ts-check
/**
 * What a screen is. app.js puts its words and plates on the page, stage.js its marks on the photo.
 *
 * @typedef {import("../geometry.js").Point} Point
 * @typedef {{at: Point, r: number, dark: number, core: number}} Lamp `core` is the share of `r` that is fully lit
 * @typedef {{finding: number | null, layers: string[], level: string, remedy: number | null, when: string, led?: string | null}} Overlay
 *
 * @typedef {object} Screen
 * @property {(app: any) => {words: any[], foot: any[]}} tell words beside the picture, plates below them
 * @property {number} step which of the four steps it belongs to; 0 is the photo
 * @property {string | ((state: any) => string)} back where the plate `Back` leads
 * @property {Record<string, any>} [state] what only this screen keeps; a new photo puts it back
 * @property {boolean} [tied] its slip hangs on the picture by a thread
 * @property {(state: any) => string | null} [alarm] what stands before everything, if anything is dangerous
 * @property {Picture} [picture] without it no photo is shown
 *
 * @typedef {object} Picture
 * @property {boolean} [taps] the photo is there to be tapped, not only seen
 * @property {number} [room] share of the sculpture that stays free round it when the screen opens
 * @property {(state: any) => Point[]} [extent] places that have to be seen then, besides dough and entries
 * @property {(state: any) => boolean} [tappable] whether a tap is asked for now
 * @property {(app: any, at: Point, scale: number) => void} [tap] where a tap is asked for
 * @property {(app: any, at: Point, scale: number) => void} [touch] where none is
 * @property {(state: any) => {key: string, at: Point}[]} [spots] what can be dragged
 * @property {(app: any, key: string, at: Point) => void} [move]
 * @property {(app: any, key: string) => void} [choose] what can be dragged was tapped
 * @property {(app: any, key: string) => void} [remove] it is to go
 * @property {(state: any) => import("../pen.js").Pen | null} [pen] what a finger draws; without it a finger taps
 * @property {(app: any, line: Point[]) => void} [drawn] a line has been drawn
 * @property {(state: any, scale: number, view: import("../geometry.js").View) => Node[]} [marks] `scale` is photo pixels per CSS pixel
 * @property {(state: any) => Node[]} [lines] outlines, in photo pixels
 * @property {(state: any, body: import("../geometry.js").Box) => Lamp} [lamp] `body` is the box round the sculpture
 * @property {(state: any) => Overlay} [overlay] what the server is to draw
 * @property {(state: any) => {at: Point, words: string} | null} [thread] what the slip is tied to
 * @property {(app: any, view: {zoom: (factor: number) => void, turn: (way: 1 | -1) => void}) => Node[]} [plates] plates on the picture
 */
export {};
