/* trouble_list.c - the list of what is wrong.
 *
 * A person mends a file from top to bottom, so the list is in the order of the file,
 * however the sections were read. It ends somewhere: after a hundred mistakes the file
 * is not one that was meant for us. */
#include "trouble_list.h"

#include <limits.h>
#include <stdlib.h>
#include <string.h>

/* A long path loses its beginning, never the line and column at its end. */
static void write_place(struct place place, char written[static TROUBLE_PLACE_MAX])
{
    enum { FILE_MAX = TROUBLE_PLACE_MAX - 30 };
    size_t length = strlen(place.file);
    const char *file = length > FILE_MAX ? place.file + length - FILE_MAX : place.file;
    const char *cut = length > FILE_MAX ? "..." : "";
    if (place.line > 0)
        snprintf(written, TROUBLE_PLACE_MAX, "%s%.*s:%d:%d", cut, (int)FILE_MAX, file, place.line,
                 place.column);
    else
        snprintf(written, TROUBLE_PLACE_MAX, "%s%.*s", cut, (int)FILE_MAX, file);
}

static struct trouble *next_trouble(struct settings_troubles *troubles)
{
    enum { STEP = 16 };
    if (troubles->count == troubles->room) {
        int room = troubles->room + STEP;
        struct trouble *item = realloc(troubles->item, (size_t)room * sizeof(*item));
        if (!item)
            return NULL;
        troubles->item = item;
        troubles->room = room;
    }
    return &troubles->item[troubles->count++];
}

bool troubles_full(const struct settings_troubles *troubles)
{
    return troubles->count >= TROUBLES_MAX;
}

void trouble_add_list(struct settings_troubles *troubles, struct place place, const char *format,
                      va_list arguments)
{
    if (troubles_full(troubles))
        return;
    struct trouble *trouble = next_trouble(troubles);
    if (!trouble) {
        troubles->lost = true;
        return;
    }
    write_place(place, trouble->place);
    struct text text = text_in(trouble->text, sizeof(trouble->text));
    text_add_list(&text, format, arguments);
    if (troubles_full(troubles))
        text_add(&text, "; there may be more: the first %d are shown", TROUBLES_MAX);
}

void trouble_add(struct settings_troubles *troubles, struct place place, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    trouble_add_list(troubles, place, format, arguments);
    va_end(arguments);
}

const char *troubles_hint(char buffer[static TEXT_SHORT_SIZE], const char *word,
                          const char *const candidates[], size_t count)
{
    const char *nearest = text_nearest(word, candidates, count);
    if (nearest)
        snprintf(buffer, TEXT_SHORT_SIZE, "; do you mean \"%.40s\"?", nearest);
    return buffer;
}

void settings_troubles_free(struct settings_troubles *troubles)
{
    free(troubles->item);
    *troubles = (struct settings_troubles){0};
}

/* ---- order ----------------------------------------------------------------------------------- */

/* The file as a whole comes first, another file last. */
static long rank(const struct trouble *trouble, const char *whole)
{
    enum { COLUMNS = 10000 };
    int line = 0, column = 0;
    size_t length = strlen(whole);
    if (strncmp(trouble->place, whole, length) != 0)
        return LONG_MAX;
    if (sscanf(trouble->place + length, ":%d:%d", &line, &column) == 0)
        return 0;
    return (long)line * COLUMNS + (column < COLUMNS ? column : COLUMNS - 1);
}

/* By insertion, so that two of one place stay as they came. */
void troubles_sort(struct settings_troubles *troubles, const char *file)
{
    char whole[TROUBLE_PLACE_MAX];
    write_place((struct place){.file = file}, whole);
    for (int k = 1; k < troubles->count; k++) {
        struct trouble moved = troubles->item[k];
        int at = k;
        for (; at > 0 && rank(&troubles->item[at - 1], whole) > rank(&moved, whole); at--)
            troubles->item[at] = troubles->item[at - 1];
        troubles->item[at] = moved;
    }
}
