/* head.c - where a table begins.
 *
 * Retailers put titles above the names: an address, a span, a remark. The table is what
 * most of the first lines look like: so many fields by the separator that most have. Its
 * first row has a time or a number; its names are the line above that has none. */
#include "days/head.h"

#include <string.h>

#include "days/names.h"
#include "days/report.h"
#include "days/times.h"

enum { LINES_MAX = 60 };

struct line {
    const char *text;
    size_t length, number;
    int count; /* of fields */
};

struct look {
    struct line line[LINES_MAX];
    int count;
};

static bool look_at_lines(struct look *look, struct days_lines *lines, const struct days_file *file)
{
    const char *text;
    size_t length;
    enum days_line next = DAYS_LINE;
    while (look->count < LINES_MAX && (next = days_lines_next(lines, &text, &length)) == DAYS_LINE)
        if (length > 0 && *text != '#')
            look->line[look->count++] = (struct line){text, length, lines->number, 0};
    if (look->count > 0 || next == DAYS_LINES_END) {
        if (look->count == 0)
            days_stop(file->report, file->path, 0, "there is nothing in it");
        return look->count > 0;
    }
    days_stop(file->report, file->path, lines->number, "%s",
              next == DAYS_LINE_TOO_LONG
                  ? "a line of over 8192 bytes: is this a table of days?"
                  : "a NUL byte: plain text in UTF-8 is expected (UTF-16, or no text?)");
    return false;
}

static bool has_outside_quotes(const struct line *line, char mark)
{
    bool quoted = false;
    for (size_t k = 0; k < line->length; k++) {
        quoted ^= line->text[k] == '"';
        if (!quoted && line->text[k] == mark)
            return true;
    }
    return false;
}

static char find_separator(const struct look *look)
{
    static const char marks[] = {';', '\t', ','};
    char best = ',';
    int most = 0;
    for (size_t m = 0; m < sizeof(marks); m++) {
        int with = 0;
        for (int k = 0; k < look->count; k++)
            with += has_outside_quotes(&look->line[k], marks[m]);
        if (with > most) {
            most = with;
            best = marks[m];
        }
    }
    return best;
}

/* The number of fields that most lines have; of several the first. */
static int most_common(const struct look *look)
{
    int most = 0, common = look->line[0].count;
    for (int k = 0; k < look->count; k++) {
        int same = 0;
        for (int i = 0; i < look->count; i++)
            same += look->line[i].count == look->line[k].count;
        if (same > most && look->line[k].count > 1) {
            most = same;
            common = look->line[k].count;
        }
    }
    return common;
}

static bool is_row(const struct days_options *options, const struct days_field field[], int count)
{
    bool number = false, time_word = false;
    for (int k = 0; k < count; k++) {
        char mark = '\0';
        double value;
        if (days_times_looks_like_one(options, field[k]) ||
            (field[k].length > 5 && days_times_looks_like_day(options, field[k])))
            return true;
        number |= days_field_number(field[k], true, &mark, &value) == DAYS_NUMBER;
        time_word |= days_role_of(field[k]) == DAYS_TIME;
    }
    return number && !time_word;
}

static bool has_time_word(const struct days_field field[], int count)
{
    for (int k = 0; k < count; k++)
        if (days_role_of(field[k]) == DAYS_TIME)
            return count > 1;
    return false;
}

/* -1: there is none. */
static int find_row(const struct look *look, const struct days_file *file, char separator,
                    int common)
{
    struct days_field field[DAYS_FIELDS_MAX];
    for (int k = 0; k < look->count; k++)
        if (look->line[k].count == common &&
            days_fields_split(look->line[k].text, look->line[k].length, separator, field) > 0 &&
            is_row(file->options, field, common))
            return k;
    return -1;
}

static int find_names(const struct look *look, char separator, int common, int row)
{
    struct days_field field[DAYS_FIELDS_MAX];
    for (int k = row - 1; k >= 0; k--) {
        const struct line *line = &look->line[k];
        int count = days_fields_split(line->text, line->length, separator, field);
        if (count == common || (count > 1 && has_time_word(field, count)))
            return k;
    }
    return -1;
}

/* "All values in kWh" above the table. */
static enum days_unit unit_of_titles(const struct look *look, int end)
{
    enum days_unit unit = DAYS_UNIT_BY_HEADER;
    for (int k = 0; k < end; k++) {
        struct days_field title = {look->line[k].text, look->line[k].length};
        enum days_unit own = days_unit_of(title, DAYS_UNKNOWN);
        if (!days_unit_is_energy(own))
            continue;
        if (unit != DAYS_UNIT_BY_HEADER && unit != own)
            return DAYS_UNIT_BY_HEADER;
        unit = own;
    }
    return unit;
}

static bool stop(const struct days_file *file, size_t line, const char *text)
{
    days_stop(file->report, file->path, line, "%s", text);
    return false;
}

static bool take(struct days_table_head *head, const struct look *look, int names, int row,
                 const struct days_file *file)
{
    const struct line *first = &look->line[row], *name = &look->line[names < 0 ? row : names];
    head->named = names >= 0;
    head->name_line = name->number;
    head->row_line = first->number;
    head->count = days_fields_split(name->text, name->length, head->separator, head->name);
    int count = days_fields_split(first->text, first->length, head->separator, head->row);
    head->title_unit = unit_of_titles(look, names < 0 ? row : names);
    if (count == DAYS_FIELDS_OPEN_QUOTE || head->count == DAYS_FIELDS_OPEN_QUOTE)
        return stop(file, first->number, "a quotation mark is not closed on this line");
    if (count == DAYS_FIELDS_TOO_MANY || head->count == DAYS_FIELDS_TOO_MANY)
        return stop(file, first->number, "over 400 fields");
    if (count != head->count) {
        days_stop(file->report, file->path, first->number, "%d field%s where line %zu has %d",
                  count, count == 1 ? "" : "s", name->number, head->count);
        return false;
    }
    if (names > 0)
        days_found_how(file->found, file->path, look->line[0].number,
                       "%d line%s of titles above the names %s left out", names,
                       names == 1 ? "" : "s", names == 1 ? "is" : "are");
    return true;
}

bool days_head_find(struct days_table_head *head, struct days_lines *lines,
                    const struct days_file *file)
{
    struct look look = {.count = 0};
    struct days_field field[DAYS_FIELDS_MAX];
    *head = (struct days_table_head){0};
    if (!look_at_lines(&look, lines, file))
        return false;
    head->separator = find_separator(&look);
    for (int k = 0; k < look.count; k++)
        look.line[k].count =
            days_fields_split(look.line[k].text, look.line[k].length, head->separator, field);
    int common = most_common(&look);
    int row = find_row(&look, file, head->separator, common);
    if (row < 0 && look.count == 1)
        return stop(file, 0, "there are no rows in it");
    int names = row < 0 ? 0 : find_names(&look, head->separator, common, row);
    return take(head, &look, names, row < 0 ? 1 : row, file);
}
