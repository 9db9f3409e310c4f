/* explain.c - the rows read aloud: one setting, or a whole commented example. */
#include <string.h>

#include "sections.h"

/* ---- one setting ---------------------------------------------------------------------------- */

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
        return "days, such as mon-fri or sat,sun";
    case SETTING_HOURS:
        return "hours, such as 09:00-15:00 or [mon-fri 09:00-15:00, sat,sun 10:00-16:00]";
    case SETTING_PHASES:
        return "phases, such as L1 or [L1, L2, L3]";
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

static void explain_row(const struct section *section, const struct setting_row *row, FILE *to)
{
    fprintf(to, "%s.%s\n  %s\n", section->path, row->key, row->text);
    if (row->kind != SETTING_WORDS)
        fprintf(to, "  written  %s\n", expected(row));
    explain_range(row, to);
    if (!row->initial)
        fprintf(to, "  default  none: it must be there\n");
    else if (row->initial[0])
        fprintf(to, "  default  %s\n", row->initial);
    if (row->example)
        fprintf(to, "  example  %s: %s\n", row->key, row->example);
    for (const struct setting_choice *choice = row->choices; choice && choice->word; choice++)
        fprintf(to, "  %-15s %s\n", choice->word, choice->text ? choice->text : "");
}

/* "minimum_on", "loads.NAME.minimum_on" or "loads.water-heater.minimum_on". */
static bool is_meant(const struct section *section, const struct setting_row *row, const char *key)
{
    const char *last = strrchr(key, '.');
    if (strcmp(row->key, last ? last + 1 : key) != 0)
        return false;
    if (!last)
        return true;
    size_t first = strcspn(key, "."), own = strcspn(section->path, ".");
    return first == own && strncmp(key, section->path, first) == 0;
}

static void list_all(FILE *to)
{
    for (int s = 0; s < section_count; s++)
        for (size_t k = 0; k < sections[s].rows->count; k++)
            fprintf(to, "%s.%s\n", sections[s].path, sections[s].rows->row[k].key);
}

static const char *nearest(const char *key)
{
    enum { MOST = 160 };
    const char *keys[MOST];
    const char *last = strrchr(key, '.');
    size_t count = 0;
    for (int s = 0; s < section_count; s++)
        for (size_t k = 0; k < sections[s].rows->count && count < MOST; k++)
            keys[count++] = sections[s].rows->row[k].key;
    return text_nearest(last ? last + 1 : key, keys, count);
}

bool settings_explain(const char *key, FILE *to)
{
    bool found = false;
    if (!key || !*key) {
        list_all(to);
        return true;
    }
    for (int s = 0; s < section_count; s++)
        for (size_t k = 0; k < sections[s].rows->count; k++) {
            const struct setting_row *row = &sections[s].rows->row[k];
            if (!is_meant(&sections[s], row, key))
                continue;
            explain_row(&sections[s], row, to);
            found = true;
        }
    if (found)
        return true;
    const char *near = nearest(key);
    fprintf(to, "there is no setting \"%.60s\"%s%s%s\n", key, near ? "; do you mean \"" : "",
            near ? near : "", near ? "\"?" : "");
    return false;
}

/* ---- the example --------------------------------------------------------------------------------
 */

/* What must be there for a file to be accepted, beside the rows' own examples. */
struct entry {
    const char *path, *head; /* the line(s) that open this section */
    int indent;
    const char *leave_out; /* keys, set off by blanks, that only other kinds have */
};

static const struct entry entries[] = {
    {"site", "site:\n", 2, " billing "},
    {"tariff", "tariff:\n", 2, " "},
    {"buses.NAME", "buses:\n  switchboard:\n", 4, " host "},
    {"meters.NAME", "meters:\n  grid:\n", 4, " load "},
    {"groups.NAME", "groups:\n  heaters:\n", 4, " "},
    {"loads.NAME", "loads:\n  water-heater:\n", 4, " stages least step heat_up "},
    {"loads.NAME.output", "    output:\n", 6, " count_power count_current topic state_topic line "},
    {"loads.NAME.floors[]", "    floors:\n      -\n", 8, " every_days "},
    {"mqtt", "mqtt:\n", 2, " user password_file ca_file certificate_file key_file "},
    {"storage", "storage:\n", 2, " "},
};

static bool is_left_out(const struct entry *entry, const char *key)
{
    char word[64];
    snprintf(word, sizeof(word), " %s ", key);
    return strstr(entry->leave_out, word) != NULL;
}

static void write_comment(const char *text, int indent, FILE *to)
{
    enum { WIDTH = 88 };
    while (*text) {
        int length = (int)strlen(text), most = WIDTH - indent;
        if (length > most) {
            length = most;
            while (length > 1 && text[length] != ' ')
                length--;
        }
        fprintf(to, "%*s# %.*s\n", indent, "", length, text);
        text += length;
        text += strspn(text, " ");
    }
}

static bool needs_quotes(const char *value)
{
    return strchr(value, ':') && value[0] != '"' && value[0] != '[' && value[0] != '{';
}

static void write_row(const struct entry *entry, const struct setting_row *row, FILE *to)
{
    const char *value = row->example                      ? row->example
                        : row->initial && row->initial[0] ? row->initial
                                                          : "";
    const char *quote = needs_quotes(value) ? "\"" : "";
    if (row->text)
        write_comment(row->text, entry->indent, to);
    fprintf(to, "%*s%s%s: %s%s%s\n\n", entry->indent, "", is_left_out(entry, row->key) ? "#" : "",
            row->key, quote, value, quote);
}

void settings_example(FILE *to)
{
    fprintf(to,
            "# Every setting of sluice. What is not marked as a comment here could be left out\n"
            "# where it has a default. Off is not isolation: see the README's cautions.\n\n");
    for (size_t e = 0; e < sizeof(entries) / sizeof(entries[0]); e++) {
        fputs(entries[e].head, to);
        for (int s = 0; s < section_count; s++)
            if (strcmp(sections[s].path, entries[e].path) == 0)
                for (size_t k = 0; k < sections[s].rows->count; k++)
                    write_row(&entries[e], &sections[s].rows->row[k], to);
    }
}
