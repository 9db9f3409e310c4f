/* explain_rows.c - the rows read aloud: one setting, or a section's. */
#include <string.h>

#include "other_words.h"
#include "read.h"
#include "sections.h"
#include "sentence.h"

static const char *expected(const struct setting_row *row)
{
    switch (row->kind) {
    case SETTING_QUANTITY:
        return quantity_expected(row->unit);
    case SETTING_YES_NO:
        return "yes or no";
    case SETTING_CHOICE:
        return "one of the words below";
    case SETTING_WEEKDAYS:
        return "days, such as mon-fri, or [sat, sun]";
    case SETTING_HOURS:
        return "hours, such as 09:00-15:00, or [mon-fri 09:00-15:00, sat 10:00-16:00]";
    case SETTING_PHASES:
        return "phases, such as L1, or [L1, L2, L3]";
    case SETTING_WORDS:
        return NULL;
    default:
        return "text";
    }
}

static void explain_range(const struct setting_row *row, FILE *to)
{
    char buffer[96];
    struct text text = text_in(buffer, sizeof(buffer));
    if (row->least == 0 && row->greatest == 0)
        return;
    quantity_write(row->unit, row->least, &text);
    text_add(&text, " to ");
    quantity_write(row->unit, row->greatest, &text);
    fprintf(to, "  range    %s\n", buffer);
}

static void explain_only(const struct section *section, const struct setting_row *row, FILE *to)
{
    char buffer[96];
    struct text text = text_in(buffer, sizeof(buffer));
    if (!row->only)
        return;
    choices_write(&section->rows->row[0], row->only, &text);
    fprintf(to, "  only     with %s: %s\n", section->rows->row[0].key, buffer);
}

static void explain_row(const struct section *section, const struct setting_row *row, FILE *to)
{
    fprintf(to, "%s.%s\n", section->path, row->key);
    sentence_hung(to, 2, "%s", row->text);
    if (expected(row))
        fprintf(to, "  written  %s\n", expected(row));
    explain_range(row, to);
    explain_only(section, row, to);
    if (!row->initial)
        fprintf(to, "  default  none: required\n");
    else if (row->initial[0])
        fprintf(to, "  default  %s\n", row->initial);
    if (row->example)
        fprintf(to, "  example  %s: %s\n", row->key, row->example);
    for (const struct setting_choice *choice = row->choices; choice && choice->word; choice++)
        sentence_hung(to, 18, "%-15s %s", choice->word, choice->text ? choice->text : "");
}

/* ---- what is meant by a key ------------------------------------------------------------------ */

/* One part of a path, and what follows it. */
static size_t part_length(const char *path)
{
    return strcspn(path, ".");
}

static const char *part_next(const char *path)
{
    size_t length = part_length(path);
    return path + length + (path[length] == '.');
}

/* One entry is asked for by its own word too: "floor" of floors, "bus" of buses. */
static bool part_is(const char *part, const char *key)
{
    size_t length = part_length(part), own = strcspn(part, ".["), given = strcspn(key, ".[");
    if (strncmp(part, "NAME", length) == 0 && length == 4)
        return part_length(key) > 0;
    bool plural = (own == given + 1 && part[given] == 's') ||
                  (own == given + 2 && strncmp(part + given, "es", 2) == 0);
    return given > 0 && (own == given || plural) && strncmp(part, key, given) == 0;
}

/* Whether `key` says `path` and then `tail`; a NAME may be left out. */
static bool says(const char *key, const char *path, const char *tail)
{
    if (!*path)
        return strcmp(key, tail) == 0;
    if (*key && part_is(path, key) && says(part_next(key), part_next(path), tail))
        return true;
    return strncmp(path, "NAME", 4) == 0 && says(key, part_next(path), tail);
}

/* "loads.water-heater.minimum_on", "loads.minimum_on", "output.kind", "minimum_on". */
static bool is_meant(const struct section *section, const struct setting_row *row, const char *key)
{
    for (const char *from = section->path; *from; from = part_next(from))
        if (strncmp(from, "NAME", 4) != 0 && says(key, from, row->key))
            return true;
    return strcmp(key, row->key) == 0;
}

/* "loads", "loads.water-heater.floors", or just "floors"; a name of somebody's own is no
 * section: "loads.minimun_on" is a slip. */
static bool is_section(const struct section *section, const char *key)
{
    const char *end = strrchr(section->path, '.'), *dot = strrchr(key, '.');
    bool named = end && strcmp(end, ".NAME") == 0 && dot && strcmp(dot, ".NAME") != 0;
    if (named)
        return false;
    for (const char *from = section->path; *from; from = part_next(from))
        if (strncmp(from, "NAME", 4) != 0 && says(key, from, ""))
            return true;
    return false;
}

/* ---- answers ----------------------------------------------------------------------------------
 */

static void list_section(const struct section *section, FILE *to)
{
    for (size_t k = 0; k < section->rows->count; k++)
        fprintf(to, "%s.%s\n", section->path, section->rows->row[k].key);
}

/* How many sections `key` names; "" names all. */
static int list_sections(const char *key, const struct section *more, FILE *to)
{
    const struct section *section;
    int found = 0;
    for (int s = 0; (section = section_at(more, s)); s++) {
        if (*key && !is_section(section, key))
            continue;
        if (section->text) {
            fprintf(to, "%s%s\n", found ? "\n" : "", section->path);
            sentence_hung(to, 2, "%s", section->text);
        }
        list_section(section, to);
        found++;
    }
    return found;
}

static int explain_rows(const char *key, const struct section *more, FILE *to)
{
    const struct section *section;
    int found = 0;
    for (int s = 0; (section = section_at(more, s)); s++)
        for (size_t k = 0; k < section->rows->count; k++)
            if (is_meant(section, &section->rows->row[k], key)) {
                if (found++)
                    fputc('\n', to);
                explain_row(section, &section->rows->row[k], to);
            }
    return found;
}

static void say_unknown(const char *key, const struct section *more, FILE *to)
{
    enum { KEYS_MAX = 256 };
    const char *keys[KEYS_MAX], *dot = strrchr(key, '.');
    const struct section *section;
    size_t count = 0;
    for (int s = 0; (section = section_at(more, s)); s++)
        for (size_t k = 0; k < section->rows->count && count < KEYS_MAX; k++)
            keys[count++] = section->rows->row[k].key;
    const char *last = dot ? dot + 1 : key, *meant = other_word(last, keys, count);
    fprintf(to, "there is no setting \"%s\"", QUOTED(key));
    if (meant)
        fprintf(to, "; here that is \"%s\"\n", meant);
    else
        fprintf(to, "%s\n", HINT(last, keys, count));
}

bool settings_explain(const char *key, const struct section *more, FILE *to)
{
    if (!key || !*key)
        return list_sections("", more, to) > 0;
    if (explain_rows(key, more, to) + list_sections(key, more, to) > 0)
        return true;
    say_unknown(key, more, to);
    return false;
}
