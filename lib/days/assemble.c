/* assemble.c - days made of channels.
 *
 * What stands for each role is brought to W in equal steps over one span (tracks.h), and
 * the household's use and the sun follow: told as they are, or use = import + solar -
 * export. Where nobody tells the sun, import stands for the use and export for the sun:
 * their difference is right, and with it the surplus. */
#include "days/assemble.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "days/choose.h"
#include "days/doubts.h"
#include "days/evidence.h"
#include "days/found.h"
#include "days/gaps.h"
#include "days/names.h"
#include "days/report.h"
#include "days/summary.h"
#include "days/tracks.h"

enum { S_PER_HOUR = 3600, S_PER_DAY = 86400 };

/* A trickle the wrong way is what meters show at night; more has a meaning. */
static const double TRICKLE_W = 50;
/* Beyond any doubt about units, which doubts.c is for. */
static const double POWER_MAX_W = 1e8;

struct assembly {
    struct days_channels *channels;
    const char *const *paths;
    const struct days_options *options;
    struct days *days;
    struct days_found *found;
    struct days_report *report;
    struct days_choice choice;
    struct days_track track[DAYS_ROLE_COUNT];
    struct days_seen seen[DAYS_ROLE_COUNT];
    size_t trickles;
    struct days_place trickle_at;
};

static bool has(const struct assembly *assembly, enum days_role role)
{
    return assembly->choice.role[role].count > 0;
}

static const struct days_channel *first_of(const struct assembly *assembly, enum days_role role)
{
    return &assembly->channels->channel[assembly->choice.role[role].part[0]];
}

static bool stop_about(const struct assembly *assembly, enum days_role role, const char *text)
{
    const struct days_channel *channel = first_of(assembly, role);
    days_stop(assembly->report, assembly->paths[channel->begin.file], channel->begin.line, "%s",
              text);
    return false;
}

/* ---- what is needed --------------------------------------------------------------------- */

static void leave(struct assembly *assembly, enum days_role role, enum days_role used)
{
    struct days_role_choice *left = &assembly->choice.role[role];
    for (int k = 0; k < left->count; k++) {
        const struct days_channel *channel = &assembly->channels->channel[left->part[k]];
        days_notice(assembly->report, assembly->paths[channel->begin.file], channel->begin.line,
                    "column %d, %s, is not used: %s gives the household's use", channel->column,
                    days_role_name(role), days_role_name(used));
        assembly->choice.fate[left->part[k]] = DAYS_NOT_USED;
    }
    left->count = 0;
}

/* The sun is not told, but the meter tells the surplus. */
static bool only_meter_knows_surplus(const struct assembly *assembly)
{
    return !has(assembly, DAYS_SOLAR) && has(assembly, DAYS_IMPORT) && has(assembly, DAYS_EXPORT);
}

static bool choose_use(struct assembly *assembly)
{
    if (has(assembly, DAYS_USE) && only_meter_knows_surplus(assembly)) {
        leave(assembly, DAYS_USE, DAYS_IMPORT);
    } else if (has(assembly, DAYS_USE)) {
        if (has(assembly, DAYS_EXPORT) && !has(assembly, DAYS_SOLAR))
            return true;
        leave(assembly, DAYS_GRID, DAYS_USE);
        leave(assembly, DAYS_IMPORT, DAYS_USE);
        leave(assembly, DAYS_EXPORT, DAYS_USE);
    } else if (has(assembly, DAYS_GRID)) {
        leave(assembly, DAYS_IMPORT, DAYS_GRID);
        leave(assembly, DAYS_EXPORT, DAYS_GRID);
    } else if (!has(assembly, DAYS_IMPORT)) {
        const struct days_channel *first = &assembly->channels->channel[0];
        days_stop(assembly->report, assembly->paths[first->begin.file], first->begin.line,
                  "no column holds the household's use or the grid's import: name one with --use "
                  "NAME:UNIT or --import NAME:UNIT (columns are numbered from 1)");
        return false;
    } else if (has(assembly, DAYS_SOLAR) && !has(assembly, DAYS_EXPORT)) {
        return stop_about(assembly, DAYS_IMPORT,
                          "import and solar, but no export: what of the sun went to the grid is "
                          "not known; name it with --export, or --use if it is the whole use");
    }
    return true;
}

/* ---- tracks ----------------------------------------------------------------------------- */

static bool stop_join(const struct assembly *assembly, enum days_role role, enum days_joined joined,
                      const struct days_track *track, struct wall twice)
{
    char when[DAYS_TIME_SIZE];
    struct days_place place = days_track_place(track, twice);
    if (joined == DAYS_JOIN_MEMORY)
        return stop_about(assembly, role, "out of memory");
    if (joined == DAYS_JOIN_GRID)
        return stop_about(assembly, role, "its steps begin at other times than the others'");
    days_stop(assembly->report, assembly->paths[place.file], place.line,
              "%s comes twice, with different values of \"%s\"",
              days_time_text(assembly->options->zone, twice, when), first_of(assembly, role)->name);
    return false;
}

static int32_t coarsest(const struct assembly *assembly)
{
    int32_t step_s = 1;
    for (int role = 0; role < DAYS_ROLE_COUNT; role++)
        for (int k = 0; k < assembly->choice.role[role].count; k++) {
            int32_t own_s = assembly->channels->channel[assembly->choice.role[role].part[k]].step_s;
            step_s = own_s > step_s ? own_s : step_s;
        }
    return step_s;
}

static bool make_track(struct assembly *assembly, enum days_role role, int32_t step_s)
{
    const struct days_role_choice *choice = &assembly->choice.role[role];
    struct days_track *track = &assembly->track[role];
    for (int k = 0; k < choice->count; k++) {
        struct days_channel *channel = &assembly->channels->channel[choice->part[k]];
        enum days_unit unit = choice->unit != DAYS_UNIT_BY_HEADER ? choice->unit : channel->unit;
        struct days_track part = {.litres = role == DAYS_DRAW};
        struct wall twice = {0};
        if (step_s % channel->step_s)
            return stop_about(assembly, role, "its steps do not divide those of the others");
        days_track_take(&part, channel,
                        days_unit_factor(unit, channel->step_s, assembly->options->array_kwp));
        days_track_coarsen(&part, step_s);
        if (k == 0) {
            *track = part;
            continue;
        }
        bool pieces = strcmp(channel->name, first_of(assembly, role)->name) == 0;
        enum days_joined joined = days_track_join(track, &part, pieces, &twice);
        if (joined == DAYS_JOIN_MEMORY || joined == DAYS_JOIN_GRID)
            days_track_free(&part);
        if (joined != DAYS_JOINED)
            return stop_join(assembly, role, joined, track, twice);
    }
    return true;
}

static void notice_cut(const struct assembly *assembly, enum days_role role, struct wall first,
                       struct wall end)
{
    const struct days_track *track = &assembly->track[role];
    const struct days_channel *channel = first_of(assembly, role);
    int64_t cut_ms = first.ms - track->first.ms + days_track_end(track).ms - end.ms;
    if (cut_ms > 0)
        days_notice(assembly->report, assembly->paths[channel->begin.file], channel->begin.line,
                    "%s: %.1f days of it are left out, as there is nothing else of them",
                    days_role_name(role), (double)cut_ms / MS_PER_DAY);
}

/* What all of them cover. */
static bool make_span(struct assembly *assembly)
{
    struct days *days = assembly->days;
    struct wall first = {INT64_MIN}, end = {INT64_MAX};
    int64_t step_ms = (int64_t)days->step_s * MS_PER_S;
    enum days_role any = DAYS_ROLE_COUNT;
    for (int role = 0; role < DAYS_ROLE_COUNT; role++) {
        const struct days_track *track = &assembly->track[role];
        if (!track->value)
            continue;
        if (any != DAYS_ROLE_COUNT && (track->first.ms - first.ms) % step_ms)
            return stop_about(assembly, (enum days_role)role,
                              "its steps begin at other times than the others'");
        first.ms = track->first.ms > first.ms ? track->first.ms : first.ms;
        end.ms = days_track_end(track).ms < end.ms ? days_track_end(track).ms : end.ms;
        any = (enum days_role)role;
    }
    if (any == DAYS_ROLE_COUNT || end.ms <= first.ms) {
        days_stop(assembly->report, assembly->paths[0], 0,
                  any == DAYS_ROLE_COUNT ? "there are no values in it"
                                         : "its parts have no day in common");
        return false;
    }
    days->first = first;
    days->count = days->steps = (size_t)((end.ms - first.ms) / step_ms);
    for (int role = 0; role < DAYS_ROLE_COUNT; role++)
        if (assembly->track[role].value) {
            notice_cut(assembly, (enum days_role)role, first, end);
            days_track_trim(&assembly->track[role], first, days->count);
        }
    return true;
}

static bool make_tracks(struct assembly *assembly)
{
    assembly->days->step_s = coarsest(assembly);
    for (int role = 0; role < DAYS_ROLE_COUNT; role++)
        if (!make_track(assembly, (enum days_role)role, assembly->days->step_s))
            return false;
    return make_span(assembly);
}

/* ---- what the figures say --------------------------------------------------------------- */

static struct wall row_at(const struct assembly *assembly, size_t row)
{
    return (struct wall){assembly->days->first.ms +
                         (int64_t)row * assembly->days->step_s * MS_PER_S};
}

static struct days_place place_of(const void *context, size_t row)
{
    const struct assembly *assembly = context;
    struct days_place place = {0};
    for (int role = 0; role < DAYS_ROLE_COUNT && place.line == 0; role++)
        place = days_track_place(&assembly->track[role], row_at(assembly, row));
    return place;
}

static void see(struct assembly *assembly, enum days_role role)
{
    const struct days_track *track = &assembly->track[role];
    const struct days_role_choice *choice = &assembly->choice.role[role];
    struct days_seen *seen = &assembly->seen[role];
    size_t most = 0;
    if (!track->value)
        return;
    seen->there = true;
    seen->unit_named = choice->unit != DAYS_UNIT_BY_HEADER;
    seen->unit = seen->unit_named ? choice->unit : first_of(assembly, role)->unit;
    for (size_t k = 0; k < track->count; k++) {
        float value = track->value[k];
        if (!isfinite(value))
            continue;
        seen->count++;
        seen->sum += (double)value;
        if ((double)fabsf(value) > seen->most) {
            seen->most = (double)fabsf(value);
            most = k;
        }
    }
    seen->most_at = days_track_place(track, row_at(assembly, most));
}

static void rename_role(struct assembly *assembly, enum days_role from, enum days_role to)
{
    assembly->choice.role[to] = assembly->choice.role[from];
    assembly->choice.role[from].count = 0;
    assembly->track[to] = assembly->track[from];
    assembly->track[from] = (struct days_track){0};
    for (int k = 0; k < assembly->choice.role[to].count; k++)
        assembly->found->channel[assembly->choice.role[to].part[k]].role = to;
}

static bool is_named(const struct assembly *assembly, enum days_role one, enum days_role other)
{
    return assembly->choice.role[one].named && assembly->choice.role[other].named;
}

/* A use beside an export, or a use and a sun that the meter may have counted. */
static bool judge_meter(struct assembly *assembly)
{
    enum days_role given = has(assembly, DAYS_EXPORT) ? DAYS_EXPORT : DAYS_SOLAR;
    if (!has(assembly, DAYS_USE) || !has(assembly, given) || is_named(assembly, DAYS_USE, given))
        return true;
    enum days_evidence says = days_says_meter(assembly->track[DAYS_USE].value,
                                              assembly->track[given].value, assembly->days->count);
    if (says == DAYS_SAYS_NO && given == DAYS_SOLAR)
        return true;
    const struct days_channel *use = first_of(assembly, DAYS_USE), *sun = first_of(assembly, given);
    const char *path = assembly->paths[use->begin.file];
    if (says != DAYS_SAYS_YES) {
        days_stop(assembly->report, path, use->begin.line,
                  "is \"%s\" all that the household used, or what the grid's meter counted? Name "
                  "both: --use and --solar, or --import and --export",
                  use->name);
        return false;
    }
    days_notice(assembly->report, path, use->begin.line,
                "\"%s\" is nothing in most steps in which \"%s\" gives power: read as the grid "
                "meter's import and export; --use and --solar read them otherwise",
                use->name, sun->name);
    rename_role(assembly, DAYS_USE, DAYS_IMPORT);
    if (given == DAYS_SOLAR)
        rename_role(assembly, DAYS_SOLAR, DAYS_EXPORT);
    return true;
}

static bool judge_exchanged(const struct assembly *assembly, enum days_role taken,
                            enum days_role given)
{
    const struct days_track *in = &assembly->track[taken], *out = &assembly->track[given];
    if (!in->value || !out->value ||
        !days_says_exchanged(in->value, out->value, in->count, assembly->days->first,
                             assembly->days->step_s, assembly->options->zone))
        return true;
    const struct days_channel *channel = first_of(assembly, given);
    days_stop(
        assembly->report, assembly->paths[channel->begin.file], channel->begin.line,
        "\"%s\" gives power by night, when \"%s\" takes next to none: are %s and %s exchanged?",
        channel->name, first_of(assembly, taken)->name, days_role_name(taken),
        days_role_name(given));
    return false;
}

/* ---- use and sun ------------------------------------------------------------------------ */

/* "0.31 kW" of an import column that was kWh would mislead: always W. */
static bool is_power(struct assembly *assembly, size_t row, const char *name, float *value,
                     const char *hint)
{
    double w = (double)*value;
    if (!isfinite(w) || (w >= 0 && w <= POWER_MAX_W))
        return true;
    struct days_place place = place_of(assembly, row);
    if (w < 0 && w >= -TRICKLE_W) {
        assembly->trickle_at = assembly->trickles++ ? assembly->trickle_at : place;
        *value = 0;
        return true;
    }
    *value = INFINITY;
    days_stop(assembly->report, assembly->paths[place.file], place.line, "%s is %.0f W: %s", name,
              w, w < 0 ? hint : "no house's; in which unit is it?");
    return assembly->report->stop_count < DAYS_REPORT_MAX;
}

static bool check_powers(struct assembly *assembly, enum days_role role, const char *hint)
{
    struct days_track *track = &assembly->track[role];
    const char *name = days_role_name(role);
    for (size_t k = 0; track->value && k < track->count; k++)
        if (!is_power(assembly, k, name, &track->value[k], hint))
            return false;
    return true;
}

static bool check_draws(struct assembly *assembly)
{
    struct days_track *track = &assembly->track[DAYS_DRAW];
    for (size_t k = 0; track->value && k < track->count; k++)
        if (track->value[k] < 0) {
            struct days_place place = place_of(assembly, k);
            days_stop(assembly->report, assembly->paths[place.file], place.line,
                      "hot water cannot be less than none");
            track->value[k] = INFINITY;
        }
    return true;
}

static bool check_values(struct assembly *assembly)
{
    return check_powers(assembly, DAYS_SOLAR, "a roof gives power; is the sign turned?") &&
           check_powers(assembly, DAYS_USE,
                        "a household takes power; is it the grid's net power (--grid)?") &&
           check_powers(
               assembly, DAYS_IMPORT,
               "a meter counts import upwards; is it import and export in one (--grid)?") &&
           check_powers(assembly, DAYS_EXPORT, "export is counted upwards; is the sign turned?") &&
           check_draws(assembly);
}

static float *take_track(struct assembly *assembly, enum days_role role)
{
    float *value = assembly->track[role].value;
    assembly->track[role].value = NULL;
    return value;
}

/* The track stays known for its places. */
static bool take_or_none(struct assembly *assembly, enum days_role role, float **values)
{
    *values = take_track(assembly, role);
    if (!*values)
        *values = calloc(assembly->days->count, sizeof(float));
    return *values;
}

/* Both ways in one column, and nothing of the sun. */
static bool split_net(struct assembly *assembly)
{
    struct days *days = assembly->days;
    if (!take_or_none(assembly, DAYS_GRID, &days->use_w) ||
        !take_or_none(assembly, DAYS_EXPORT, &days->solar_w))
        return false;
    bool any = false;
    for (size_t k = 0; k < days->count; k++) {
        float net_w = days->use_w[k];
        days->solar_w[k] = net_w < 0 || !isfinite(net_w) ? -net_w : 0;
        days->use_w[k] = net_w > 0 || !isfinite(net_w) ? net_w : 0;
        any |= days->solar_w[k] > 0;
    }
    days->at_meter = any;
    return true;
}

static bool add_up(struct assembly *assembly)
{
    struct days *days = assembly->days;
    enum days_role taken = has(assembly, DAYS_GRID) ? DAYS_GRID : DAYS_IMPORT;
    const float *export_w = taken == DAYS_GRID ? NULL : assembly->track[DAYS_EXPORT].value;
    if (!take_or_none(assembly, taken, &days->use_w) ||
        !take_or_none(assembly, DAYS_SOLAR, &days->solar_w))
        return false;
    for (size_t k = 0; k < days->count; k++) {
        float out_w = export_w ? export_w[k] : 0;
        bool refused = isinf(days->use_w[k]) || isinf(days->solar_w[k]) || isinf(out_w);
        days->use_w[k] = refused ? INFINITY : days->use_w[k] + days->solar_w[k] - out_w;
        if (!is_power(assembly, k, "use (import + solar - export)", &days->use_w[k],
                      "are import and export, or their signs, exchanged?"))
            return true; /* stops enough */
    }
    return true;
}

static bool make_rows(struct assembly *assembly)
{
    struct days *days = assembly->days;
    bool made;
    if (has(assembly, DAYS_USE)) {
        made = take_or_none(assembly, DAYS_USE, &days->use_w) &&
               take_or_none(assembly, DAYS_SOLAR, &days->solar_w);
    } else if (has(assembly, DAYS_SOLAR)) {
        made = add_up(assembly);
    } else if (has(assembly, DAYS_GRID)) {
        made = split_net(assembly);
    } else {
        days->at_meter = has(assembly, DAYS_EXPORT);
        made = take_or_none(assembly, DAYS_IMPORT, &days->use_w) &&
               take_or_none(assembly, DAYS_EXPORT, &days->solar_w);
    }
    days->draw_l = take_track(assembly, DAYS_DRAW);
    if (days->draw_l) {
        days->draw_step_s = days->step_s;
        days->draw_count = days->count;
    }
    if (!made)
        days_stop(assembly->report, assembly->paths[0], 0, "out of memory");
    return made;
}

/* ---- what is told of it ----------------------------------------------------------------- */

static void notice_estimated(const struct assembly *assembly)
{
    for (int k = 0; k < assembly->channels->count; k++) {
        const struct days_channel *channel = &assembly->channels->channel[k];
        if (channel->estimated > 0 && assembly->choice.fate[k] == DAYS_USED)
            days_notice(assembly->report, assembly->paths[channel->estimated_from.file],
                        channel->estimated_from.line,
                        "\"%s\": %zu of %zu values are estimated or substituted, not measured",
                        channel->name, channel->estimated, channel->count);
    }
}

static void notice_view(const struct assembly *assembly)
{
    const struct days *days = assembly->days;
    if (days->at_meter)
        days_notice(assembly->report, assembly->paths[0], 0,
                    "no solar power is given: surplus follows from what was exported; what the "
                    "household took from its own roof is not known, and is in no figure of use "
                    "and sun");
    else if (!has(assembly, DAYS_SOLAR) && !has(assembly, DAYS_USE))
        days_notice(assembly->report, assembly->paths[0], 0,
                    "import alone: without export or solar power there is no surplus");
    if (assembly->trickles > 0)
        days_notice(assembly->report, assembly->paths[assembly->trickle_at.file],
                    assembly->trickle_at.line,
                    "%zu value%s of less than nothing, at most 50 W of it: taken as none",
                    assembly->trickles, assembly->trickles == 1 ? "" : "s");
}

static double day_kwh(const struct days *days, const float *w)
{
    double sum = 0;
    for (size_t k = 0; k < days->count; k++)
        sum += (double)w[k];
    return sum / (double)days->count * 24 / 1000;
}

static void tell_found(struct assembly *assembly)
{
    struct days_found *found = assembly->found;
    const struct days *days = assembly->days;
    found->first = days->first;
    found->end.ms = days->first.ms + (int64_t)days->count * days->step_s * MS_PER_S;
    found->use_day_kwh = day_kwh(days, days->use_w);
    found->sun_day_kwh = day_kwh(days, days->solar_w);
    bool sun = days->at_meter || has(assembly, DAYS_SOLAR);
    found->view = days->at_meter ? DAYS_VIEW_METER : sun ? DAYS_VIEW_HOME : DAYS_VIEW_NO_SURPLUS;
}

static bool judge(struct assembly *assembly)
{
    for (int role = 0; role < DAYS_ROLE_COUNT; role++)
        see(assembly, (enum days_role)role);
    bool clear = judge_exchanged(assembly, DAYS_IMPORT, DAYS_EXPORT);
    clear = judge_exchanged(assembly, DAYS_USE, DAYS_SOLAR) && clear;
    return judge_meter(assembly) && clear;
}

static bool assemble(struct assembly *assembly)
{
    struct days *days = assembly->days;
    bool chosen = days_choose(&assembly->choice, assembly->channels, assembly->paths,
                              assembly->options, assembly->report);
    chosen = chosen && choose_use(assembly);
    days_found_channels(assembly->found, assembly->channels, &assembly->choice,
                        assembly->options->array_kwp);
    if (!chosen || !make_tracks(assembly) || !judge(assembly) || !check_values(assembly) ||
        !make_rows(assembly))
        return false;
    const struct days_gaps gaps = {.days = days,
                                   .options = assembly->options,
                                   .paths = assembly->paths,
                                   .report = assembly->report,
                                   .place = place_of,
                                   .context = assembly};
    if (!days_gaps_fill(&gaps) || assembly->report->stop_count > 0)
        return false;
    if (days->count < 2) {
        days_stop(assembly->report, assembly->paths[0], 0,
                  "one row is no day: at least two are expected");
        return false;
    }
    if (!days_doubt_units(assembly->seen, assembly->options, days->step_s, assembly->paths,
                          assembly->report))
        return false;
    notice_estimated(assembly);
    notice_view(assembly);
    days_doubt_days(days, assembly->options, assembly->paths[0], assembly->report);
    tell_found(assembly);
    return true;
}

bool days_assemble(struct days_channels *channels, const char *const paths[],
                   const struct days_options *options, struct days *days, struct days_found *found,
                   struct days_report *report)
{
    struct assembly assembly = {.channels = channels,
                                .paths = paths,
                                .options = options,
                                .days = days,
                                .found = found,
                                .report = report};
    *days = (struct days){0};
    bool made = assemble(&assembly);
    for (int role = 0; role < DAYS_ROLE_COUNT; role++)
        days_track_free(&assembly.track[role]);
    if (!made)
        days_free(days);
    return made;
}
