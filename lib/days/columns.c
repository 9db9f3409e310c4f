/* columns.c - finds columns by what the options say or by their names.
 *
 * A name is taken apart into words ("Grid import [kWh]": grid, import, kwh). Roles and
 * units are rows of words; the first row that has one of the name's words wins, so that
 * "grid import" is import. Only one column may stand for a role: two that could are a
 * stop, not a choice. A unit must be told by the name or by the options. */
#include "days/columns.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "core/text.h"
#include "days/report.h"
#include "days/times.h"

enum { WORDS_MAX = 12, WORD_SIZE = 24 };

/* In order of precedence. */
static const struct role_row {
    enum days_role role;
    const char *name;
    const char *words[14];
} role_rows[] = {
    {DAYS_IMPORT, "import", {"import", "imported", "imports", "purchased"}},
    {DAYS_EXPORT, "export", {"export", "exported", "exports", "feedin"}},
    {DAYS_DRAW, "draw", {"draw", "draws", "hotwater", "dhw", "litres", "liters"}},
    {DAYS_SOLAR, "solar", {"solar", "pv", "generation", "production", "yield", "photovoltaic"}},
    {DAYS_USE, "use", {"use", "usage", "used", "consumption", "load", "household", "house"}},
    {DAYS_GRID, "grid", {"grid", "net", "meter"}},
    {DAYS_TIME, "time", {"time", "timestamp", "datetime", "date", "when"}},
};
enum { ROLE_ROWS = sizeof(role_rows) / sizeof(role_rows[0]) };

static const struct unit_row {
    enum days_unit unit;
    const char *name;
    const char *words[4]; /* all of them, in this order */
} unit_rows[] = {
    {DAYS_W_PER_KWP, "W/kWp", {"w", "per", "kwp"}},
    {DAYS_W_PER_KWP, NULL, {"w", "kwp"}},
    {DAYS_KW_PER_KWP, "kW/kWp", {"kw", "per", "kwp"}},
    {DAYS_KW_PER_KWP, NULL, {"kw", "kwp"}},
    {DAYS_L_PER_HOUR, "l/h", {"l", "h"}},
    {DAYS_L_PER_HOUR, NULL, {"l", "per", "hour"}},
    {DAYS_L_PER_HOUR, NULL, {"litres", "per", "hour"}},
    {DAYS_L_PER_HOUR, NULL, {"lph"}},
    {DAYS_L_PER_MINUTE, "l/min", {"l", "min"}},
    {DAYS_L_PER_MINUTE, NULL, {"l", "per", "minute"}},
    {DAYS_L_PER_MINUTE, NULL, {"lpm"}},
    {DAYS_KWH, "kWh", {"kwh"}},
    {DAYS_WH, "Wh", {"wh"}},
    {DAYS_KW, "kW", {"kw"}},
    {DAYS_W, "W", {"w"}},
    {DAYS_W, NULL, {"watt"}},
    {DAYS_W, NULL, {"watts"}},
    {DAYS_L, "l", {"l"}},
    {DAYS_L, NULL, {"litres"}},
    {DAYS_L, NULL, {"liters"}},
};
enum { UNIT_ROWS = sizeof(unit_rows) / sizeof(unit_rows[0]) };

const char *days_role_name(enum days_role role)
{
    for (int k = 0; k < ROLE_ROWS; k++)
        if (role_rows[k].role == role)
            return role_rows[k].name;
    return "";
}

const char *days_unit_name(enum days_unit unit)
{
    for (int k = 0; k < UNIT_ROWS; k++)
        if (unit_rows[k].unit == unit && unit_rows[k].name)
            return unit_rows[k].name;
    return "";
}

static bool fits_role(enum days_unit unit, enum days_role role)
{
    bool water = unit == DAYS_L || unit == DAYS_L_PER_HOUR || unit == DAYS_L_PER_MINUTE;
    bool per_kwp = unit == DAYS_W_PER_KWP || unit == DAYS_KW_PER_KWP;
    return (role == DAYS_DRAW) == water && (!per_kwp || role == DAYS_SOLAR);
}

/* ---- words --------------------------------------------------------------------- */

struct words {
    char word[WORDS_MAX][WORD_SIZE];
    int count;
};

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

static struct words words_of(struct days_field name)
{
    struct words words = {.count = 0};
    int length = 0;
    for (size_t k = 0; k <= name.length; k++) {
        char c = k < name.length ? name.at[k] : ' ';
        if (is_letter(c) && words.count < WORDS_MAX && length < WORD_SIZE - 1) {
            words.word[words.count][length++] = (char)(c | 0x20);
        } else if (!is_letter(c) && length > 0) {
            words.word[words.count++][length] = '\0';
            length = 0;
        }
    }
    return words;
}

static bool has_word(const struct words *words, const char *wanted)
{
    for (int k = 0; k < words->count; k++)
        if (strcmp(words->word[k], wanted) == 0)
            return true;
    return false;
}

static bool has_words_in_order(const struct words *words, const char *const wanted[4])
{
    for (int first = 0; first < words->count; first++) {
        int k = 0;
        while (k < 4 && wanted[k] && first + k < words->count &&
               strcmp(words->word[first + k], wanted[k]) == 0)
            k++;
        if (k > 0 && (k == 4 || !wanted[k]))
            return true;
    }
    return false;
}

static bool unit_of_name(struct days_field name, enum days_role role, enum days_unit *unit)
{
    struct words words = words_of(name);
    for (int k = 0; k < UNIT_ROWS; k++)
        if (fits_role(unit_rows[k].unit, role) && has_words_in_order(&words, unit_rows[k].words)) {
            *unit = unit_rows[k].unit;
            return true;
        }
    return false;
}

bool days_unit_parse(const char *word, enum days_unit *unit)
{
    for (int k = 0; k < UNIT_ROWS; k++)
        if (unit_rows[k].name && strcasecmp(word, unit_rows[k].name) == 0) {
            *unit = unit_rows[k].unit;
            return true;
        }
    return false;
}

/* "hot water" is two words of one meaning; "water temperature" is no draw. */
static bool role_of_name(struct days_field name, enum days_role *role)
{
    struct words words = words_of(name);
    if (has_word(&words, "temperature") || has_word(&words, "temp"))
        return false;
    *role = DAYS_DRAW;
    if (has_word(&words, "hot") && has_word(&words, "water"))
        return true;
    for (int row = 0; row < ROLE_ROWS; row++)
        for (int k = 0; k < 14 && role_rows[row].words[k]; k++)
            if (has_word(&words, role_rows[row].words[k])) {
                *role = role_rows[row].role;
                return true;
            }
    return false;
}

/* ---- columns by option ------------------------------------------------------------ */

struct search {
    struct days_columns *columns;
    const struct days_options *options;
    const struct days_field *head, *row;
    bool header;
    int count;
    const char *path;
    struct days_report *report;
};

static int column_named(const struct search *search, const char *name)
{
    for (int k = 0; search->header && k < search->count; k++)
        if (days_field_is(search->head[k], name))
            return k;
    char *end;
    long number = strtol(name, &end, 10);
    return *name && !*end && number >= 1 && number <= search->count ? (int)number - 1 : -1;
}

static void stop_unnamed(const struct search *search, enum days_role role, const char *name)
{
    char held[DAYS_FIELDS_MAX][DAYS_QUOTE_SIZE];
    const char *names[DAYS_FIELDS_MAX];
    char wanted[TEXT_SHORT_SIZE];
    for (int k = 0; k < search->count; k++)
        names[k] = days_field_quote(search->head[k], held[k]);
    const char *nearest = search->header ? text_nearest(name, names, (size_t)search->count) : NULL;
    days_stop(search->report, search->path, 1,
              "no column \"%s\" for %s; %s%s%s%d columns are there", text_shorten(wanted, name),
              days_role_name(role), nearest ? "is \"" : "", nearest ? nearest : "",
              nearest ? "\" meant? " : "", search->count);
}

static bool find_by_options(const struct search *search)
{
    bool found_all = true;
    for (int role = 0; role < DAYS_ROLE_COUNT; role++) {
        const struct days_column *wanted = &search->options->column[role];
        search->columns->index[role] = -1;
        if (!wanted->name)
            continue;
        search->columns->index[role] = column_named(search, wanted->name);
        if (search->columns->index[role] < 0) {
            stop_unnamed(search, (enum days_role)role, wanted->name);
            found_all = false;
        }
    }
    return found_all;
}

/* ---- columns by their names --------------------------------------------------------- */

static bool is_taken(const struct search *search, int column)
{
    for (int role = 0; role < DAYS_ROLE_COUNT; role++)
        if (search->columns->index[role] == column)
            return true;
    return false;
}

static void notice_unused(const struct search *search, int column)
{
    char name[DAYS_QUOTE_SIZE];
    days_notice(search->report, search->path, 1, "column %d, \"%s\", is not used", column + 1,
                days_field_quote(search->head[column], name));
}

/* "Date" and "Time" side by side are one time in two columns. */
static bool takes_clock(const struct search *search, int column)
{
    int date = search->columns->index[DAYS_TIME];
    if (search->columns->clock_index >= 0 || date < 0 || search->options->column[DAYS_TIME].name)
        return false;
    struct words before = words_of(search->head[date]), here = words_of(search->head[column]);
    if (!has_word(&before, "date") || !has_word(&here, "time"))
        return false;
    search->columns->clock_index = column;
    return true;
}

static bool find_by_names(const struct search *search)
{
    bool clear = true;
    for (int k = 0; search->header && k < search->count; k++) {
        enum days_role role;
        if (is_taken(search, k))
            continue;
        if (!role_of_name(search->head[k], &role)) {
            if (search->head[k].length > 0)
                notice_unused(search, k);
        } else if (search->options->column[role].name) {
            notice_unused(search, k);
        } else if (search->columns->index[role] < 0) {
            search->columns->index[role] = k;
        } else if (role != DAYS_TIME || !takes_clock(search, k)) {
            days_stop(search->report, search->path, 1,
                      "columns %d and %d could both be %s: say which with --%s NAME",
                      search->columns->index[role] + 1, k + 1, days_role_name(role),
                      days_role_name(role));
            clear = false;
        }
    }
    return clear;
}

/* Where no name tells the time, the one column that holds times does. */
static bool find_time(const struct search *search)
{
    int found = -1, held = 0;
    if (search->columns->index[DAYS_TIME] >= 0)
        return true;
    for (int k = 0; k < search->count; k++)
        if (!is_taken(search, k) && days_times_looks_like_one(search->options, search->row[k])) {
            found = k;
            held++;
        }
    search->columns->index[DAYS_TIME] = found;
    if (held == 1)
        return true;
    days_stop(search->report, search->path, 1,
              "%s column holds the time: name it with --time NAME or --time NUMBER",
              held ? "it is not clear which" : "no");
    return false;
}

/* ---- what is needed ----------------------------------------------------------------- */

static bool find_unit(const struct search *search, enum days_role role)
{
    struct days_columns *columns = search->columns;
    int column = columns->index[role];
    char name[DAYS_QUOTE_SIZE];
    if (role == DAYS_TIME || column < 0)
        return true;
    columns->unit[role] = search->options->column[role].unit;
    columns->unit_named[role] = columns->unit[role] != DAYS_UNIT_BY_HEADER;
    if (!columns->unit_named[role] &&
        !(search->header && unit_of_name(search->head[column], role, &columns->unit[role]))) {
        days_stop(search->report, search->path, 1,
                  "the unit of column %d, \"%s\", is not given: write --%s %d:%s, or another unit",
                  column + 1, search->header ? days_field_quote(search->head[column], name) : "",
                  days_role_name(role), column + 1, role == DAYS_DRAW ? "l" : "kW");
        return false;
    }
    if (!fits_role(columns->unit[role], role)) {
        days_stop(search->report, search->path, 1, "%s is not a unit of %s",
                  days_unit_name(columns->unit[role]), days_role_name(role));
        return false;
    }
    bool per_kwp = columns->unit[role] == DAYS_W_PER_KWP || columns->unit[role] == DAYS_KW_PER_KWP;
    if (!per_kwp || search->options->array_kwp > 0)
        return true;
    days_stop(search->report, search->path, 1,
              "solar power is given per kWp: say how many kWp there are with --array");
    return false;
}

static bool finds_use(const struct search *search)
{
    const int *index = search->columns->index;
    if (index[DAYS_USE] >= 0 || index[DAYS_GRID] >= 0 || index[DAYS_IMPORT] >= 0)
        return true;
    days_stop(search->report, search->path, 1,
              "no column holds the household's use or the grid's import: name one with --use "
              "NAME:UNIT or --import NAME:UNIT%s",
              search->header ? "" : " (there is no line of names; columns are numbered from 1)");
    return false;
}

bool days_columns_find(struct days_columns *columns, const struct days_options *options,
                       const struct days_field *head, bool header, const struct days_field *row,
                       int count, const char *path, struct days_report *report)
{
    struct search search = {columns, options, head, row, header, count, path, report};
    columns->clock_index = -1;
    if (!find_by_options(&search))
        return false;
    bool clear = find_by_names(&search);
    clear = find_time(&search) && clear;
    clear = finds_use(&search) && clear;
    for (int role = 0; role < DAYS_ROLE_COUNT; role++)
        clear = find_unit(&search, (enum days_role)role) && clear;
    return clear;
}
