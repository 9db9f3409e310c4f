/* choose.c - from channels to roles.
 *
 * An option names a channel by its name in the file, by its column's number, or several
 * to be added up ("E1+E2"). Where no option does, what the file says of a channel counts:
 * then only one name may stand for a role, and two that could are a stop, not a choice.
 * Channels of one name are pieces of one: a month of it each, or finer steps from some
 * day on. */
#include "days/choose.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/text.h"
#include "days/names.h"
#include "days/report.h"

struct choosing {
    struct days_choice *choice;
    const struct days_channels *channels;
    const char *const *paths;
    const struct days_options *options;
    struct days_report *report;
};

static const struct days_channel *channel_of(const struct choosing *choosing, int index)
{
    return &choosing->channels->channel[index];
}

static struct days_field field_of(const char *text)
{
    return (struct days_field){text, strlen(text)};
}

static void stop_at(const struct choosing *choosing, const struct days_channel *channel,
                    const char *text)
{
    days_stop(choosing->report, choosing->paths[channel->begin.file], channel->begin.line, "%s",
              text);
}

/* "column 3, "battery_w"", or the name alone where it is no column's. */
static const char *describe(const struct days_channel *channel, char buffer[static 120])
{
    struct text text = text_in(buffer, 120);
    if (channel->column > 0)
        text_add(&text, "column %d, ", channel->column);
    text_add(&text, "\"%s\"", channel->name);
    return buffer;
}

/* ---- by the options ------------------------------------------------------------------- */

static bool is_named(const struct days_channel *channel, struct days_field name, bool by_number)
{
    char number[16];
    snprintf(number, sizeof(number), "%d", channel->column);
    return days_field_is(name, by_number ? number : channel->name);
}

/* How many channels the name means; each is added to the parts. */
static int add_named(const struct choosing *choosing, struct days_field name, int part[],
                     int *count)
{
    int added = 0;
    for (int pass = 0; pass < 2 && added == 0; pass++)
        for (int k = 0; k < choosing->channels->count; k++)
            if (is_named(channel_of(choosing, k), name, pass == 1) && *count < DAYS_CHANNELS_MAX) {
                part[(*count)++] = k;
                added++;
            }
    return added;
}

static void stop_unnamed(const struct choosing *choosing, const char *what, struct days_field name)
{
    const char *names[DAYS_CHANNELS_MAX];
    char wanted[DAYS_QUOTE_SIZE];
    int count = choosing->channels->count;
    for (int k = 0; k < count; k++)
        names[k] = channel_of(choosing, k)->name;
    days_field_quote(name, wanted);
    const char *nearest = text_nearest(wanted, names, (size_t)count);
    days_stop(choosing->report, choosing->paths[0], count ? channel_of(choosing, 0)->begin.line : 0,
              "no column \"%s\" for %s; %s%s%s%d columns of values are there", wanted, what,
              nearest ? "is \"" : "", nearest ? nearest : "", nearest ? "\" meant? " : "", count);
}

/* A name that is there as a whole may have a + itself. */
static bool take_names(const struct choosing *choosing, const char *what, const char *names,
                       int part[], int *count)
{
    if (add_named(choosing, field_of(names), part, count) > 0)
        return true;
    bool found_all = true;
    for (const char *at = names; *at;) {
        size_t length = strcspn(at, "+");
        struct days_field name = {at, length};
        if (add_named(choosing, name, part, count) == 0) {
            stop_unnamed(choosing, what, name);
            found_all = false;
        }
        at += length + (at[length] == '+');
    }
    return found_all;
}

static bool take_options(const struct choosing *choosing)
{
    bool clear = true;
    struct days_choice *choice = choosing->choice;
    for (int role = 0; role < DAYS_ROLE_COUNT; role++) {
        const struct days_column *column = &choosing->options->column[role];
        struct days_role_choice *made = &choice->role[role];
        if (role == DAYS_TIME || !column->name)
            continue;
        made->named = true;
        made->unit = column->unit;
        clear = take_names(choosing, days_role_name((enum days_role)role), column->name, made->part,
                           &made->count) &&
                clear;
    }
    for (int role = 0; role < DAYS_ROLE_COUNT; role++)
        for (int k = 0; k < choice->role[role].count; k++)
            choice->fate[choice->role[role].part[k]] = DAYS_USED;
    int ignored[DAYS_CHANNELS_MAX], count = 0;
    if (choosing->options->ignore)
        clear =
            take_names(choosing, "--ignore", choosing->options->ignore, ignored, &count) && clear;
    for (int k = 0; k < count; k++)
        choice->fate[ignored[k]] = DAYS_IGNORED;
    return clear;
}

/* ---- by what the file says -------------------------------------------------------------- */

static bool stop_either(const struct choosing *choosing, enum days_role role,
                        const struct days_channel *first, const struct days_channel *second)
{
    char text[TROUBLE_TEXT_MAX];
    const char *name = days_role_name(role);
    struct text to = text_in(text, sizeof(text));
    if (first->column > 0 && second->column > 0)
        text_add(&to, "columns %d and %d", first->column, second->column);
    else
        text_add(&to, "\"%s\" and \"%s\"", first->name, second->name);
    text_add(&to, " could both be %s: say which with --%s NAME, or --%s \"%s+%s\" adds them up",
             name, name, name, first->name, second->name);
    text_add(&to, role == DAYS_IMPORT ? "; a controlled load (hot water on a register of its own) "
                                        "goes with --ignore NAME"
                                      : "");
    stop_at(choosing, second, text);
    return false;
}

static bool take_files_word(const struct choosing *choosing)
{
    bool clear = true;
    struct days_choice *choice = choosing->choice;
    for (int k = 0; k < choosing->channels->count; k++) {
        const struct days_channel *channel = channel_of(choosing, k);
        if (choice->fate[k] != DAYS_NOT_USED || channel->role == DAYS_UNKNOWN)
            continue;
        struct days_role_choice *made = &choice->role[channel->role];
        if (made->named)
            continue; /* whoever says which it is has seen the others */
        if (made->count > 0 &&
            strcmp(channel_of(choosing, made->part[0])->name, channel->name) != 0) {
            clear =
                stop_either(choosing, channel->role, channel_of(choosing, made->part[0]), channel);
        } else {
            made->part[made->count++] = k;
            choice->fate[k] = DAYS_USED;
        }
    }
    return clear;
}

/* ---- what nobody knows ------------------------------------------------------------------ */

/* What has no unit of energy matters to nobody here; a controlled load is in no other
 * register; anything else could turn the advice. */
static bool ask_for(const struct choosing *choosing, int index)
{
    const struct days_channel *channel = channel_of(choosing, index);
    const char *path = choosing->paths[channel->begin.file];
    char what[120];
    describe(channel, what);
    if (days_name_has(field_of(channel->name), "controlled|cl|controlled load|heater")) {
        days_notice(choosing->report, path, channel->begin.line,
                    "%s, is left out: taken as hot water on a register of its own, which is in no "
                    "other",
                    what);
        return true;
    }
    if (!days_unit_is_energy(channel->unit)) {
        days_notice(choosing->report, path, channel->begin.line,
                    "%s, is not used: its name says neither what it is nor a unit of energy", what);
        return true;
    }
    choosing->choice->fate[index] = DAYS_ASKED_FOR;
    days_stop(choosing->report, path, channel->begin.line,
              "%s, in %s: what is it? --use, --import, --export, --grid or --solar \"%s\" says so, "
              "or --ignore \"%s\" leaves it out",
              what, days_unit_name(channel->unit), channel->name, channel->name);
    return false;
}

static bool ask(const struct choosing *choosing)
{
    bool clear = true;
    for (int k = 0; k < choosing->channels->count; k++)
        if (choosing->choice->fate[k] == DAYS_NOT_USED &&
            channel_of(choosing, k)->role == DAYS_UNKNOWN)
            clear = ask_for(choosing, k) && clear;
    return clear;
}

/* ---- units ------------------------------------------------------------------------------ */

static bool check_unit(const struct choosing *choosing, enum days_role role,
                       const struct days_channel *channel)
{
    const struct days_role_choice *made = &choosing->choice->role[role];
    enum days_unit unit = made->unit != DAYS_UNIT_BY_HEADER ? made->unit : channel->unit;
    const char *path = choosing->paths[channel->begin.file], *name = days_role_name(role);
    char what[120], number[16];
    snprintf(number, sizeof(number), "%d", channel->column);
    if (unit == DAYS_UNIT_BY_HEADER)
        days_stop(choosing->report, path, channel->begin.line,
                  "the unit of %s, is not given: write --%s %s:%s, or another unit",
                  describe(channel, what), name, channel->column > 0 ? number : channel->name,
                  role == DAYS_DRAW ? "l" : "kW");
    else if (!days_unit_fits(unit, role))
        days_stop(choosing->report, path, channel->begin.line, "%s is not a unit of %s",
                  days_unit_name(unit), name);
    else if ((unit == DAYS_W_PER_KWP || unit == DAYS_KW_PER_KWP) &&
             choosing->options->array_kwp <= 0)
        days_stop(choosing->report, path, channel->begin.line,
                  "solar power is given per kWp: say how many kWp there are with --array");
    else
        return true;
    return false;
}

static bool check_units(const struct choosing *choosing)
{
    bool clear = true;
    for (int role = 0; role < DAYS_ROLE_COUNT; role++) {
        const struct days_role_choice *made = &choosing->choice->role[role];
        for (int k = 0; k < made->count && clear; k++)
            clear = check_unit(choosing, (enum days_role)role, channel_of(choosing, made->part[k]));
    }
    return clear;
}

bool days_choose(struct days_choice *choice, const struct days_channels *channels,
                 const char *const paths[], const struct days_options *options,
                 struct days_report *report)
{
    const struct choosing choosing = {choice, channels, paths, options, report};
    *choice = (struct days_choice){0};
    bool clear = take_options(&choosing);
    clear = take_files_word(&choosing) && clear;
    clear = ask(&choosing) && clear;
    return check_units(&choosing) && clear;
}
