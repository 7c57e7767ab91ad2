import type { Day, HomeView } from '../bridge/types';
import { dayHere } from '../lessons/lesson';
import { shortDay } from '../words/format';
import { words } from '../words/words';

/** What happened at home since the last lesson, in sentences. Without lessons there is no since. */
export function sinceTexts(home: HomeView, lastLesson: Day | null): string[] {
  if (lastLesson === null) return [];
  const t = words.pupil;
  const minutes = home.practised.filter(({ day }) => day >= lastLesson).reduce((sum, one) => sum + one.minutes, 0);
  const replies = home.replies.filter(({ madeAt }) => dayHere(new Date(madeAt)) >= lastLesson).length;
  return [
    ...(minutes > 0 ? [t.practisedSince(minutes, shortDay(lastLesson))] : []),
    ...(replies > 0 ? [t.wroteSince(replies)] : []),
  ];
}
