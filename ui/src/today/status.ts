import type { Day, News, PupilRow } from '../bridge/types';
import { lessonText } from '../lessons/lesson';
import { measureName, shortDay } from '../words/format';
import { words } from '../words/words';
import { freshNews, taskState } from './waiting';

const t = words.today;

export function nameOfRow(row: PupilRow): string {
  return row.profile?.name ?? words.general.noName;
}

/** What came in since the last lesson; where there are no lessons, what there is. */
export function cameText(row: PupilRow): string {
  if (row.pages === 0) return t.noPages;
  if (row.lastLesson !== null) return t.came(row.came, shortDay(row.lastLesson));
  return row.lastPage === null ? t.pages(row.pages) : t.pagesUntil(row.pages, shortDay(row.lastPage));
}

/** Whether the week's task is set, and whether it was answered. */
export function taskText(row: PupilRow, today: Day): string {
  if (!row.task) return t.noTask;
  if (taskState(row, today) === 'due') return t.taskDue;
  return row.answered ? t.taskAnswered(shortDay(row.task.setOn)) : t.taskOpen(shortDay(row.task.setOn));
}

export function newsText(item: News): string {
  return t.newsItem(measureName(item.name), words.verdicts[item.verdict], words.kinds[item.kind]);
}

/** What never changes from day to day, for a line. */
export function factsText(row: PupilRow): string {
  const year = row.profile ? [words.year(row.profile.year)] : [];
  return t.facts(...year, ...(row.lesson ? [lessonText(row.lesson)] : []));
}

/** How things stand, for a line: pages that wait are told beside it. */
export function toldText(row: PupilRow, today: Day): string {
  const { told: news, more } = freshNews(row);
  const came = row.lastLesson !== null && row.pages > 0 ? t.cameShort(row.came, shortDay(row.lastLesson)) : cameText(row);
  return t.told(
    taskText(row, today),
    ...(row.unseen === 0 ? [came.charAt(0).toUpperCase() + came.slice(1)] : []),
    ...(news[0] ? [t.newsOne(newsText(news[0]), news.length - 1 + more)] : []),
  );
}
