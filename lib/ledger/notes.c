/* notes.c - a list of notes that never moves: blocks are added at its end. */
#include "ledger/notes.h"

#include <stdlib.h>
#include <string.h>

#include "core/text.h"

static struct ledger_note *note_at(const struct notes *notes, int index)
{
    return &notes->block[index / NOTES_OF_BLOCK][index % NOTES_OF_BLOCK];
}

static struct ledger_note *find(const struct notes *notes, const char *key)
{
    for (int k = 0; k < notes->count; k++)
        if (strncmp(note_at(notes, k)->key, key, LEDGER_KEY_MAX - 1) == 0)
            return note_at(notes, k);
    return NULL;
}

/* An empty one at the end, or NULL. */
static struct ledger_note *add(struct notes *notes)
{
    int block = notes->count / NOTES_OF_BLOCK;
    if (block == NOTES_BLOCKS)
        return NULL;
    if (!notes->block[block])
        notes->block[block] = calloc(NOTES_OF_BLOCK, sizeof(struct ledger_note));
    return notes->block[block] ? note_at(notes, notes->count++) : NULL;
}

static void copy(char *to, size_t size, const char *from)
{
    struct text text = text_in(to, size);
    text_add(&text, "%s", from);
}

const char *notes_find(const struct notes *notes, const char *key)
{
    const struct ledger_note *note = find(notes, key);
    return note ? note->text : NULL;
}

bool notes_set(struct notes *notes, const char *key, const char *text)
{
    struct ledger_note *note = find(notes, key);
    if (!note) {
        note = add(notes);
        if (!note)
            return false;
        copy(note->key, sizeof(note->key), key);
    }
    copy(note->text, sizeof(note->text), text);
    return true;
}

void notes_free(struct notes *notes)
{
    for (int k = 0; k < NOTES_BLOCKS; k++)
        free(notes->block[k]);
    *notes = (struct notes){.count = 0};
}
