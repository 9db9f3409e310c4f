/* columns.c - from the names of columns, and what the first row holds, to what they are.
 *
 * Where two dozen columns or more are named by times of the day (or numbered from 1 in
 * order), a row is a day. Else each column of numbers is a channel. Texts beside them say
 * of which stream, meter or unit the row is, and whether it was estimated. */
#include "days/columns.h"

#include <stdlib.h>
#include <string.h>

#include "days/report.h"
#include "days/times.h"

enum { S_PER_DAY = 86400, WIDE_LEAST = 24 };

struct search {
    struct days_columns *columns;
    const struct days_head *head;
    bool taken[DAYS_FIELDS_MAX];
};

static struct days_field name_of(const struct search *search, int column)
{
    return search->head->named ? search->head->name[column] : (struct days_field){"", 0};
}

static bool holds_number(const struct search *search, int column)
{
    char mark = '\0';
    double value;
    enum days_number number = days_field_number(search->head->row[column], true, &mark, &value);
    return number == DAYS_NUMBER || number == DAYS_NUMBER_MISSING;
}

/* ---- the time --------------------------------------------------------------------------- */

static int column_named(const struct search *search, const char *name)
{
    char *end;
    long number = strtol(name, &end, 10);
    for (int k = 0; search->head->named && k < search->head->count; k++)
        if (days_field_is(search->head->name[k], name))
            return k;
    return *name && !*end && number >= 1 && number <= search->head->count ? (int)number - 1 : -1;
}

static bool is_time(const struct search *search, int column)
{
    struct days_field row = search->head->row[column];
    return days_times_looks_like_one(search->head->options, row) ||
           days_times_looks_like_day(search->head->options, row);
}

static bool is_time_name(struct days_field name)
{
    return days_role_of(name) == DAYS_TIME ||
           days_name_has(name, "start|begin|from|end|until|interval|period|day");
}

/* The end of the step, beside its beginning. */
static bool is_end(struct days_field name)
{
    return days_name_has(name, "end|until|to|finish");
}

static bool is_clock(const struct search *search, int column)
{
    int32_t second;
    struct days_field row = search->head->row[column];
    return row.length <= 11 && !days_times_looks_like_one(search->head->options, row) &&
           days_times_in_name(row, &second);
}

static bool find_named_time(struct search *search)
{
    struct days_columns *columns = search->columns;
    for (int pass = 0; pass < 2 && columns->time < 0; pass++)
        for (int k = 0; k < search->head->count && columns->time < 0; k++) {
            bool named = days_role_of(name_of(search, k)) == DAYS_TIME;
            bool end = is_end(name_of(search, k));
            if (pass == 0 ? named && !end && !is_clock(search, k)
                          : named || (is_time_name(name_of(search, k)) && is_time(search, k)))
                columns->time = k;
        }
    return columns->time >= 0;
}

/* Where no name tells the time, the one column that holds times does. */
static bool find_held_time(struct search *search)
{
    int held = 0;
    for (int k = 0; k < search->head->count; k++)
        if (is_time(search, k)) {
            search->columns->time = k;
            held++;
        }
    if (held == 1)
        return true;
    days_stop(search->head->report, search->head->path, search->head->line,
              "%s column holds the time: name it with --time NAME or --time NUMBER",
              held ? "it is not clear which" : "no");
    return false;
}

/* A date in one column and the time of day in another; ends of steps are left alone. */
static void find_clock(struct search *search)
{
    struct days_columns *columns = search->columns;
    for (int k = 0; k < search->head->count; k++) {
        struct days_field name = name_of(search, k);
        if (k == columns->time)
            continue;
        bool time = is_time_name(name) || !search->head->named;
        if (time && is_clock(search, k) && columns->clock < 0 &&
            days_times_looks_like_day(search->head->options, search->head->row[columns->time]) &&
            !(is_end(name) && !days_name_has(name, "start|from|time")))
            columns->clock = k;
        else if (!is_time_name(name) || !(is_clock(search, k) || is_time(search, k)))
            continue;
        search->taken[k] = true;
    }
}

static bool find_time(struct search *search)
{
    const struct days_column *wanted = &search->head->options->column[DAYS_TIME];
    struct days_columns *columns = search->columns;
    columns->time = wanted->name ? column_named(search, wanted->name) : -1;
    if (wanted->name && columns->time < 0) {
        days_stop(search->head->report, search->head->path, search->head->line,
                  "no column \"%.40s\" for time; %d columns are there", wanted->name,
                  search->head->count);
        return false;
    }
    if (columns->time < 0 && !find_named_time(search) && !find_held_time(search))
        return false;
    search->taken[columns->time] = true;
    find_clock(search);
    return true;
}

/* ---- texts beside the values ------------------------------------------------------------ */

static bool is_unit(struct days_field field)
{
    char word[DAYS_QUOTE_SIZE];
    enum days_unit unit;
    return days_unit_parse(days_field_quote(field, word), &unit);
}

static void find_texts(struct search *search)
{
    struct days_columns *columns = search->columns;
    for (int k = 0; k < search->head->count; k++) {
        struct days_field name = name_of(search, k), row = search->head->row[k];
        bool text = !holds_number(search, k);
        int *kind = NULL;
        if (search->taken[k])
            continue;
        if (days_name_has(name, "quality|status|estimated|flag|validation"))
            kind = &columns->quality;
        else if (days_name_has(name, "unit|units|uom") || (text && is_unit(row)))
            kind = &columns->unit;
        else if (days_name_has(name, "nmi|mpan|serial|site|account|meter id|meter number|meter no"))
            kind = &columns->meter;
        else if (days_name_has(name, "stream|register|channel|suffix") ||
                 (text && days_name_has(name, "type|direction|description|flow|measurement")))
            kind = &columns->stream;
        if (!kind)
            continue;
        search->taken[k] = true;
        if (*kind < 0)
            *kind = k;
    }
}

/* ---- a row is a day --------------------------------------------------------------------- */

static bool take_slots(struct search *search, const int column[], const int32_t second[], int count)
{
    struct days_columns *columns = search->columns;
    int32_t step_s = S_PER_DAY / count;
    if (S_PER_DAY % count || 3600 % step_s)
        return false;
    int32_t ends_s = second[0] == 0 ? 0 : step_s; /* 00:30 .. 24:00 are the ends of steps */
    for (int k = 0; k < count; k++)
        if ((second[k] - ends_s - k * step_s) % S_PER_DAY != 0)
            return false;
    for (int k = 0; k < count; k++) {
        columns->cell[k] = (struct days_cell){column[k], k * step_s, DAYS_UNKNOWN, 0};
        search->taken[column[k]] = true;
    }
    columns->cell_count = count;
    columns->step_s = step_s;
    columns->wide = true;
    return true;
}

/* "P1", "1", "kWh 48": the number at the end. */
static int number_at_end(struct days_field name)
{
    size_t k = name.length;
    int number = 0, power = 1;
    for (; k > 0 && name.at[k - 1] >= '0' && name.at[k - 1] <= '9' && power <= 1000; power *= 10)
        number += (name.at[--k] - '0') * power;
    return power > 1 ? number : -1;
}

static bool find_slots(struct search *search)
{
    int column[DAYS_FIELDS_MAX], count = 0;
    int32_t second[DAYS_FIELDS_MAX];
    for (int k = 0; k < search->head->count; k++)
        if (!search->taken[k] && days_times_in_name(name_of(search, k), &second[count]))
            column[count++] = k;
    if (count >= WIDE_LEAST)
        return take_slots(search, column, second, count);
    count = 0;
    for (int k = 0; k < search->head->count; k++)
        if (!search->taken[k] &&
            (search->head->named ? number_at_end(name_of(search, k)) == count + 1
                                 : holds_number(search, k)))
            column[count++] = k;
    for (int k = 0; k < count; k++)
        second[k] = k * (S_PER_DAY / count);
    return count >= WIDE_LEAST && take_slots(search, column, second, count);
}

/* ---- a row is a step -------------------------------------------------------------------- */

static bool is_asked_for(const struct search *search, int column)
{
    for (int role = 0; role < DAYS_ROLE_COUNT; role++) {
        const char *name = search->head->options->column[role].name;
        if (name && column_named(search, name) == column)
            return true;
    }
    return false;
}

static void notice_unused(const struct search *search, int column)
{
    char name[DAYS_QUOTE_SIZE];
    days_notice(search->head->report, search->head->path, search->head->line,
                "column %d, \"%s\", is not used", column + 1,
                days_field_quote(name_of(search, column), name));
}

static void find_values(struct search *search)
{
    struct days_columns *columns = search->columns;
    for (int k = 0; k < search->head->count; k++) {
        struct days_field name = name_of(search, k);
        enum days_role role = days_role_of(name);
        if (search->taken[k])
            continue;
        if (role == DAYS_TIME ||
            (role == DAYS_UNKNOWN && !holds_number(search, k) && !is_asked_for(search, k))) {
            if (name.length > 0)
                notice_unused(search, k);
            continue;
        }
        columns->cell[columns->cell_count++] =
            (struct days_cell){k, 0, role, days_unit_of(name, role)};
    }
}

bool days_columns_find(struct days_columns *columns, const struct days_head *head)
{
    struct search search = {.columns = columns, .head = head};
    *columns = (struct days_columns){
        .time = -1, .clock = -1, .stream = -1, .meter = -1, .unit = -1, .quality = -1};
    if (!find_time(&search))
        return false;
    find_texts(&search);
    if (!find_slots(&search))
        find_values(&search);
    else
        for (int k = 0; k < head->count; k++)
            if (!search.taken[k] && name_of(&search, k).length > 0)
                notice_unused(&search, k);
    if (columns->cell_count > 0)
        return true;
    days_stop(head->report, head->path, head->line,
              "no column holds the household's use or the grid's import: name one with --use "
              "NAME:UNIT or --import NAME:UNIT");
    return false;
}
