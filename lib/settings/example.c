/* example.c - a whole settings file, written from the rows.
 *
 * Every setting is there with its text; what only another kind of load or line has
 * stands as a comment, so that the file is accepted as it is. */
#include <string.h>

#include "sections.h"

enum { WIDTH = 88 };

struct entry {
    const char *path, *head; /* the line(s) that open this section */
    int indent;
    const char *leave_out; /* keys, set off by blanks, that this house has no use for */
};

static const struct entry entries[] = {
    {"site", "site:\n", 2, " billing "},
    {"tariff", "tariff:\n", 2, " "},
    {"tariff.import[]", "  import:\n    -\n", 6, " hours months "},
    {"buses.NAME", "buses:\n  switchboard:\n", 4, " host tcp_port "},
    {"meters.NAME", "meters:\n  grid:\n", 4, " load "},
    {"groups.NAME", "groups:\n  heaters:\n", 4, " "},
    {"loads.NAME", "loads:\n  water-heater:\n", 4, " heat_up "},
    {"loads.NAME.output", "    output:\n", 6, " "},
    {"loads.NAME.floors[]", "    floors:\n      -\n", 8, " every_days "},
    {"mqtt", "mqtt:\n", 2, " user password_file ca_file certificate_file key_file "},
    {"storage", "storage:\n", 2, " "},
};

/* The house has the first kind of everything. */
static bool is_left_out(const struct entry *entry, const struct setting_row *row)
{
    char word[64];
    snprintf(word, sizeof(word), " %s ", row->key);
    return (row->only && !(row->only & 1)) || strstr(entry->leave_out, word);
}

static void write_comment(const char *text, int indent, FILE *to)
{
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

/* A list has a section of its own, which follows. */
static bool is_list(const struct entry *entry, const struct setting_row *row)
{
    char path[96];
    snprintf(path, sizeof(path), "%s.%s[]", entry->path, row->key);
    for (int s = 0; s < section_count; s++)
        if (strcmp(sections[s].path, path) == 0)
            return true;
    return false;
}

static void write_row(const struct entry *entry, const struct setting_row *row, FILE *to)
{
    const char *value = row->example ? row->example : row->initial ? row->initial : "";
    const char *quote = needs_quotes(value) ? "\"" : "";
    write_comment(row->text, entry->indent, to);
    if (is_list(entry, row))
        return;
    fprintf(to, "%*s%s%s: %s%s%s\n\n", entry->indent, "", is_left_out(entry, row) ? "#" : "",
            row->key, quote, value, quote);
}

void settings_example(FILE *to)
{
    fprintf(to, "# Every setting of sluice. What has a default may be left out.\n"
                "# Off is not isolation: isolate all supplies and prove dead.\n\n");
    for (size_t e = 0; e < sizeof(entries) / sizeof(entries[0]); e++) {
        fputs(entries[e].head, to);
        for (int s = 0; s < section_count; s++)
            if (strcmp(sections[s].path, entries[e].path) == 0)
                for (size_t k = 0; k < sections[s].rows->count; k++)
                    write_row(&entries[e], &sections[s].rows->row[k], to);
    }
}
