import type { PageRow, PupilView, Task, TaskId } from '../bridge/types';

/** Tasks that can be chosen; earlier ones lie too far back for a page of this week. */
const MOST = 3;

/** Which task the next page answers. */
export class ThisTask {
  /** What a person chose; `null` for none of them. */
  #picked = $state<TaskId | null | undefined>(undefined);

  constructor(readonly view: () => PupilView) {}

  get offered(): readonly Task[] {
    return this.view().tasks.slice(0, MOST);
  }

  /** The newest one, unless a person chose another or none. */
  get task(): Task | null {
    const [newest = null] = this.offered;
    if (this.#picked === undefined) return newest;
    return this.offered.find((one) => one.id === this.#picked) ?? null;
  }

  /** The newest page that answers it. */
  get answer(): PageRow | null {
    const { task } = this;
    return task ? (this.view().pages.find((row) => row.task === task.id) ?? null) : null;
  }

  pick(task: TaskId | null): void {
    this.#picked = task;
  }
}
