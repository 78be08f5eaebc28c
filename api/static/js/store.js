// @ts-check
/**
 * One observed store. `set` changes what is shown; `edit` changes the job (what the helper told) and can be undone.
 *
 * @template S
 * @typedef {object} Store
 * @property {() => S} get
 * @property {(patch: Partial<S>) => void} set
 * @property {(job: any) => void} edit
 * @property {() => void} undo
 * @property {() => void} redo
 * @property {() => boolean} canUndo
 * @property {() => boolean} canRedo
 * @property {() => void} forget
 * @property {(change: (job: any) => any, patch?: (job: any) => Partial<S>) => void} rebase the job and every step of
 *   undo, changed alike; `patch` is what changes with the new job
 * @property {(listener: (state: S, before: S) => void) => void} subscribe
 */

const MOST_STEPS = 200;

/** @template {{job: any}} S @param {S} initial @returns {Store<S>} */
export function createStore(initial) {
  let state = initial;
  /** @type {any[]} */ let past = [];
  /** @type {any[]} */ let future = [];
  /** @type {((state: S, before: S) => void)[]} */ const listeners = [];

  /** @param {Partial<S>} patch */
  const set = (patch) => {
    const before = state;
    state = { ...state, ...patch };
    for (const listener of listeners) listener(state, before);
  };
  /** @param {any[]} from @param {any[]} to */
  const step = (from, to) => {
    if (!from.length) return;
    to.push(state.job);
    set(/** @type {Partial<S>} */ ({ job: from.pop() }));
  };
  return {
    get: () => state,
    set,
    edit(job) {
      past = [...past, state.job].slice(-MOST_STEPS);
      future = [];
      set(/** @type {Partial<S>} */ ({ job }));
    },
    undo: () => step(past, future),
    redo: () => step(future, past),
    canUndo: () => past.length > 0,
    canRedo: () => future.length > 0,
    forget() {
      past = [];
      future = [];
    },
    rebase(change, patch = () => ({})) {
      past = past.map(change);
      future = future.map(change);
      const job = change(state.job);
      set({ ...patch(job), job });
    },
    subscribe: (listener) => void listeners.push(listener),
  };
}
