import type { KeepingDraft } from './keeping-draft.svelte';

/** Sends what was typed. It is half-typed no longer, unless it came to nothing: then it stands there as before. */
export async function sendDraft(
  draft: Pick<KeepingDraft, 'text' | 'drop'>,
  send: (text: string) => Promise<void>,
): Promise<void> {
  const { text } = draft;
  // First, since what follows may take the field away.
  await draft.drop();
  try {
    await send(text.trim());
  } catch (error) {
    draft.text = text;
    throw error;
  }
}
