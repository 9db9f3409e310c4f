/* found.c - channels as a preview shows them. */
#include "days/found.h"

#include <math.h>
#include <string.h>

#include "days/choose.h"
#include "days/names.h"
#include "days/summary.h"

enum { S_PER_DAY = 86400, S_PER_HOUR = 3600 };

static struct wall at_index(const struct days_channel *channel, size_t index)
{
    return (struct wall){channel->first.ms + (int64_t)index * channel->step_s * MS_PER_S};
}

/* Litres a step come out of the factor of hot water, W of all others. */
static void weigh(struct days_found_channel *seen, const struct days_channel *channel,
                  double array_kwp)
{
    bool unknown = seen->unit == DAYS_UNIT_BY_HEADER;
    double factor = days_unit_factor(seen->unit, channel->step_s, array_kwp);
    bool litres = days_unit_fits(seen->unit, DAYS_DRAW) && !unknown;
    size_t most = 0, there = 0;
    double sum = 0;
    for (size_t k = 0; k < channel->count; k++) {
        float value = channel->value[k];
        bool missing = !isfinite(value);
        seen->gaps += missing && (k == 0 || isfinite(channel->value[k - 1]));
        seen->missing += missing;
        if (missing)
            continue;
        sum += (double)value;
        most = there == 0 || fabsf(value) > fabsf(channel->value[most]) ? k : most;
        there++;
    }
    double days = (double)there * channel->step_s / S_PER_DAY;
    double hours = (double)channel->step_s / S_PER_HOUR;
    bool any = there > 0 && !unknown;
    seen->day_kwh = any ? sum * factor * (litres ? 1 : hours / 1000) / days : NAN;
    seen->most_w = any ? (double)channel->value[most] * factor / (litres ? hours : 1) : NAN;
    seen->most_at = at_index(channel, most);
}

void days_found_channels(struct days_found *found, const struct days_channels *channels,
                         const struct days_choice *choice, double array_kwp)
{
    found->count = channels->count;
    for (int k = 0; k < channels->count; k++) {
        const struct days_channel *channel = &channels->channel[k];
        struct days_found_channel *seen = &found->channel[k];
        *seen = (struct days_found_channel){.file = channel->begin.file,
                                            .line = channel->begin.line,
                                            .role = channel->role,
                                            .unit = channel->unit,
                                            .fate = choice->fate[k],
                                            .step_s = channel->step_s,
                                            .first = channel->first,
                                            .end = at_index(channel, channel->count),
                                            .count = channel->count,
                                            .estimated = channel->estimated};
        memcpy(seen->name, channel->name, sizeof(seen->name));
        for (int role = 0; role < DAYS_ROLE_COUNT; role++)
            for (int part = 0; part < choice->role[role].count; part++)
                if (choice->role[role].part[part] == k) {
                    seen->role = (enum days_role)role;
                    if (choice->role[role].unit != DAYS_UNIT_BY_HEADER)
                        seen->unit = choice->role[role].unit;
                }
        if (found->weighed)
            weigh(seen, channel, array_kwp);
    }
}
