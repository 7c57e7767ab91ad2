import type { Staged, Task } from '../bridge/types';
import { day } from '../words/format';
import { words } from '../words/words';

/** What a photograph answers, in the words by which the task was chosen; where there is no task, of which kind it is. */
export function whatFor(photo: Pick<Staged, 'task' | 'kind' | 'writtenOn'>, tasks: readonly Task[]): string {
  const task = tasks.find(({ id }) => id === photo.task);
  const kind = words.kinds[photo.kind];
  const answers = task ? words.pupil.taskOf(words.kinds[task.kind], day(task.setOn)) : kind;
  return words.photo.answersWrittenOn(answers, day(photo.writtenOn));
}
