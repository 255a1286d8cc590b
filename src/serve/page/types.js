// What the server sends and what the page holds, for the type check only; nothing here runs. docs/review.md is the contract.

/** @typedef {'keep'|'undecided'|'reject'} Verdict */
/** @typedef {Verdict|'none'} Wish what can be asked for; none takes one's own verdict back */
/** @typedef {[number, number, number, number]} Box x, y, w, h as fractions of the upright frame */
/** @typedef {{verdict: Verdict, rating: number|null}} Mine */
/** @typedef {{id: string, mine: Mine|null}} Change */

/**
 * @typedef {object} Frame
 * @property {string} id
 * @property {string} name
 * @property {string} burst
 * @property {number} pose 0: not compared with others
 * @property {number} place 1: best of its pose
 * @property {number|null} time_ms
 * @property {number} width
 * @property {number} height
 * @property {Verdict} verdict what burstsieve says
 * @property {number|null} rating
 * @property {number|null} blur full-size px
 * @property {number|null} blur_confidence
 * @property {number|null} motion
 * @property {number|null} whites share 0..1
 * @property {number|null} cut
 * @property {Box|null} head
 * @property {'unknown'|'visible'|'hidden'} head_view
 * @property {Box|null} subject
 * @property {Box|null} [area] where the camera was told to focus
 * @property {string} reason
 * @property {string[]} codes
 * @property {boolean} damaged
 * @property {string} sidecar a person's rating that its sidecar holds; empty: none
 * @property {Mine|null} mine what the photographer says
 */

/** @typedef {{id: string, camera: string, start: number, frames: string[], poses: {pose: number, frames: string[]}[]}} Burst */
/** @typedef {{folder: string, revision: number, session: string, can_undo?: boolean, can_redo?: boolean, bursts: Burst[], frames: Frame[]}} Shoot */

/** @typedef {'all'|'undecided'|'changed'} Show */
/** @typedef {{show: Show, reason: string}} Narrow reason: a reason's code, or empty */
/** @typedef {{bird: boolean, head: boolean, area: boolean, landed: boolean, whites: boolean}} Overlays */
/** @typedef {{panes: string[], at: number, zoom: number, dx: number, dy: number}} Close zoom: screen pixels per picture pixel, 0 = the
 *  whole frame; dx, dy: picture pixels off the head, the same in every pane */

/**
 * @typedef {object} State
 * @property {Shoot} shoot
 * @property {Map<string, Frame>} byId
 * @property {Map<string, Mine>} mine
 * @property {number} revision up to which every step is known
 * @property {number} newest revision that was heard of
 * @property {Map<string, number>} told for each frame the revision that last spoke of it
 * @property {string} here the current frame
 * @property {Set<string>} ticked
 * @property {Narrow} narrow
 * @property {Set<string>|null} shown frames that the narrowing let through when it was chosen; null: all
 * @property {Overlays} overlays
 * @property {Close|null} close
 * @property {boolean} stepOn
 * @property {number} size 0..2
 * @property {'none'|'help'|'done'} dialog
 * @property {number} saving decisions under way
 * @property {'ok'|'lost'|'expired'} link
 * @property {boolean} canUndo
 * @property {boolean} canRedo
 */

/** @typedef {{kind: 'burst', burst: number, top: number, height: number}
 *  | {kind: 'frames', burst: number, pose: number, first: boolean, total: number, frames: string[], top: number, height: number}} Line */
/** @typedef {{lines: Line[], height: number, order: string[], lineOf: Map<string, number>, columns: number}} Layout */

export {};
