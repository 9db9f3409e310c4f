/* example.c - a whole settings file, written from the rows.
 *
 * Every setting is there with its text; what only another kind of load or line has
 * stands as a comment, so that the file is accepted as it is. So do parts of a tariff
 * that most houses have not. */
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
    {"tariff.feed_in_bands[]", "  #feed_in_bands:\n    #-\n", 6, " price hours months "},
    {"tariff.demand[]", "  #demand:\n    #-\n", 6, " price per window hours months "},
    {"tariff.controlled", "  #controlled:\n", 4, " hours daily "},
    {"tariff.controlled.import[]", "    #import:\n      #-\n", 8, " price hours months "},
    {"buses.NAME", "buses:\n  switchboard:\n", 4, " host tcp_port "},
    {"meters.NAME", "meters:\n  grid:\n", 4, " load "},
    {"groups.NAME", "groups:\n  heaters:\n", 4, " "},
    {"loads.NAME", "loads:\n  water-heater:\n", 4, " heat_up "},
    {"loads.NAME.water", "    #water:\n", 6,
     " volume set hysteresis cold room standing_loss usable missing probe "},
    {"loads.NAME.output", "    output:\n", 6, " "},
    {"loads.NAME.floors[]", "    floors:\n      -\n", 8, " every_days "},
    {"gateway", "#gateway:\n", 2,
     " listen tcp_port allow port baud parity stop_bits age wait connections connections_each rate "
     "idle "},
    {"gateway.serve[]", "  #serve:\n    #-\n", 6, " view meter unit wiring writable "},
    {"mqtt", "mqtt:\n", 2, " user password_file ca_file certificate_file key_file "},
    {"storage", "storage:\n", 2, " "},
    {"quote", "quote:\n", 2, " timer_hours boost_hours array water "},
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

/* Whether `path` is the list that the row of a section stands for: it has a section of
 * its own, which follows. */
static bool is_list_of(const char *path, const char *section, const struct setting_row *row)
{
    char made[96];
    snprintf(made, sizeof(made), "%s.%s[]", section, row->key);
    return strcmp(made, path) == 0;
}

static bool is_list(const struct entry *entry, const struct setting_row *row)
{
    const struct section *section;
    for (int s = 0; (section = section_at(NULL, s)); s++)
        if (is_list_of(section->path, entry->path, row))
            return true;
    return false;
}

/* What a section or a list is for stands at its head. */
static void write_head(const struct entry *entry, const struct section *more, FILE *to)
{
    const struct section *section;
    int indent = (int)strspn(entry->head, " ");
    for (int s = 0; (section = section_at(more, s)); s++) {
        if (section->text && strcmp(section->path, entry->path) == 0)
            write_comment(section->text, indent, to);
        for (size_t k = 0; k < section->rows->count; k++)
            if (is_list_of(entry->path, section->path, &section->rows->row[k]))
                write_comment(section->rows->row[k].text, indent, to);
    }
    fputs(entry->head, to);
}

static void write_row(const struct entry *entry, const struct setting_row *row, FILE *to)
{
    const char *value = row->example ? row->example : row->initial ? row->initial : "";
    const char *quote = needs_quotes(value) ? "\"" : "";
    if (is_list(entry, row))
        return;
    write_comment(row->text, entry->indent, to);
    fprintf(to, "%*s%s%s: %s%s%s\n\n", entry->indent, "", is_left_out(entry, row) ? "#" : "",
            row->key, quote, value, quote);
}

void settings_example(const struct section *more, FILE *to)
{
    const struct section *section;
    fprintf(to, "# Every setting of sluice. What has a default may be left out.\n"
                "# Off is not isolation: isolate all supplies and prove dead.\n\n");
    for (size_t e = 0; e < sizeof(entries) / sizeof(entries[0]); e++) {
        write_head(&entries[e], more, to);
        for (int s = 0; (section = section_at(more, s)); s++)
            if (strcmp(section->path, entries[e].path) == 0)
                for (size_t k = 0; k < section->rows->count; k++)
                    write_row(&entries[e], &section->rows->row[k], to);
    }
}
