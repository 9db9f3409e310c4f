/* data_preview.c - figures and sentences that the screen and the page share. */
#include "data_preview.h"

#include <math.h>
#include <string.h>

#include "core/hours.h"
#include "core/quantity.h"
#include "days/household.h"
#include "days/names.h"
#include "sluice/page/show.h"

#define MWH_PER_KWH 1e6

bool data_preview_make(struct data_preview *preview, const struct data_loaded *loaded)
{
    bool heater_known = loaded->taken.of > 0;
    *preview = (struct data_preview){.loaded = loaded};
    if (loaded->days.steps == 0)
        return true;
    if (!days_halves_make(&loaded->days, loaded->zone, &preview->halves))
        return false;
    days_profile_make(&preview->halves, &preview->profile);
    days_doubt_household(&loaded->days, &preview->halves, loaded->array_kwp, heater_known,
                         loaded->paths[0], &preview->doubts);
    return true;
}

void data_preview_free(struct data_preview *preview)
{
    days_halves_free(&preview->halves);
}

/* ---- in words ----------------------------------------------------------------------------- */

static const char *name_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

void data_write_files(const struct data_preview *preview, struct text *text)
{
    const char *name = name_of(preview->loaded->paths[0]);
    int more = preview->loaded->path_count - 1;
    text_add_foreign(text, name, strlen(name));
    if (more > 0)
        text_add(text, " and %d more file%s", more, more == 1 ? "" : "s");
}

static void write_date(struct text *text, int32_t day)
{
    struct date date = date_of_days(day);
    text_add(text, "%d %s %d", date.day, month_name(date.month), date.year);
}

void data_write_span(const struct data_preview *preview, struct text *text)
{
    const struct days_halves *halves = &preview->halves;
    if (halves->count == 0)
        return;
    int32_t first = halves->slot[0].day, last = halves->slot[halves->count - 1].day;
    write_date(text, first);
    if (last > first) {
        text_add(text, " to ");
        write_date(text, last);
        text_add(text, ", %d days", last - first + 1);
    }
}

static void write_kwh(struct text *text, const char *what, double kwh)
{
    if (isnan(kwh))
        return;
    text_add(text, "%s%s ", text->used > 0 ? ", " : "", what);
    show_kwh(text, llround(kwh * MWH_PER_KWH));
}

void data_write_day(const struct data_preview *preview, struct text *text)
{
    const struct days_flow *day = &preview->halves.day_kwh;
    write_kwh(text, "imported", day->import);
    write_kwh(text, "exported", day->export);
    write_kwh(text, "generated", day->sun);
    write_kwh(text, "used", day->use);
    text_add(text, " kWh");
}

void data_write_peaks(const struct days_peak peaks[static DAYS_PEAKS], struct text *text)
{
    for (int k = 0; k < DAYS_PEAKS && peaks[k].w > 0; k++) {
        text_add(text, k > 0 ? "; " : "");
        show_power(text, llround(peaks[k].w));
        text_add(text, " ");
        show_date(text, date_of_days(peaks[k].day));
        text_add(text, " ");
        show_clock(text, peaks[k].second);
    }
}

/* ---- what was read ------------------------------------------------------------------------ */

const char *data_role(const struct days_found_channel *channel)
{
    return channel->role < DAYS_ROLE_COUNT ? days_role_name(channel->role) : "unknown";
}

const char *data_fate(const struct days_found_channel *channel)
{
    switch (channel->fate) {
    case DAYS_NOT_USED:
        return "not used";
    case DAYS_ASKED_FOR:
        return "what is it?";
    case DAYS_IGNORED:
        return "ignored, by --ignore";
    case DAYS_USED:
        break;
    }
    return "";
}

static void tell_taken(const struct data_preview *preview, data_line *line, void *context)
{
    const struct hours hours = {
        .count = 1,
        .span = {{preview->loaded->heater.from_s, preview->loaded->heater.to_s, WEEKDAYS_ALL}}};
    char buffer[TROUBLE_TEXT_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    text_add(&text, "the heater that was in the use is taken out: ");
    show_kwh(&text, llround(preview->loaded->taken.day_kwh * MWH_PER_KWH));
    text_add(&text, " kWh a day, ");
    hours_write(&hours, &text);
    text_add(&text, " at ");
    quantity_write(QUANTITY_POWER_W, llround(preview->loaded->heater.power_w), &text);
    text_add(&text, ", on %d of %d days; reheats of less than half an hour are left in",
             preview->loaded->taken.spans, preview->loaded->taken.of);
    line(context, buffer);
}

static void tell_trouble(const struct trouble *trouble, data_line *line, void *context)
{
    char buffer[TROUBLE_PLACE_MAX + TROUBLE_TEXT_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const char *place = name_of(trouble->place);
    text_add(&text, "%s%s%s", place, *place ? ": " : "", trouble->text);
    line(context, buffer);
}

void data_tell_heater(const struct data_preview *preview, data_line *line, void *context)
{
    if (preview->loaded->taken.of > 0)
        tell_taken(preview, line, context);
}

void data_tell_reading(const struct data_preview *preview, data_line *line, void *context)
{
    for (int k = 0; k < preview->loaded->found.how_count; k++)
        tell_trouble(&preview->loaded->found.how[k], line, context);
    data_tell_heater(preview, line, context);
}

void data_tell_doubts(const struct data_preview *preview, data_line *line, void *context)
{
    for (int k = 0; k < preview->loaded->report.count; k++)
        if (!preview->loaded->report.stops[k])
            tell_trouble(&preview->loaded->report.item[k], line, context);
    for (int k = 0; k < preview->doubts.count; k++)
        line(context, preview->doubts.item[k].text);
}

/* ---- the mean day ------------------------------------------------------------------------- */

struct data_flows data_flow_names(const struct data_preview *preview)
{
    return preview->loaded->days.at_meter ? (struct data_flows){"import", "export"}
                                          : (struct data_flows){"use", "sun"};
}

double data_use_w(const struct data_preview *preview, const struct days_flow *flow)
{
    return preview->loaded->days.at_meter ? flow->import : flow->use;
}

double data_sun_w(const struct data_preview *preview, const struct days_flow *flow)
{
    return preview->loaded->days.at_meter ? flow->export : flow->sun;
}

void data_largest_w(const struct data_preview *preview, double *use_w, double *sun_w)
{
    *use_w = *sun_w = 1;
    for (int season = 0; season < DAYS_SEASONS; season++)
        for (int half = 0; half < DAYS_HALF_HOURS; half++) {
            const struct days_flow *mean = &preview->profile.season[season].mean_w[half];
            *use_w = fmax(*use_w, data_use_w(preview, mean));
            *sun_w = fmax(*sun_w, data_sun_w(preview, mean));
        }
}
