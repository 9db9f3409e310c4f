/* compare_terms.c - what a quote rests on and how long it holds: tariff, dates, who made it. */
#include "compare_sentence.h"
#include "sluice/page/show.h"

/* "0.30 a kWh", and when. */
static void say_band(struct sentence *sentence, const struct tariff_band *band)
{
    say(sentence, "%.4g a kWh", band->price_micro / 1e6);
    if (band->hours.count > 0) {
        say(sentence, " ");
        hours_write(&band->hours, &sentence->text);
    }
    if (band->first_month > 0)
        say(sentence, " from %s to %s", month_name(band->first_month),
            month_name(band->last_month));
}

static void say_bands(struct sentence *sentence, const struct tariff_band band[], int count)
{
    for (int k = 0; k < count; k++) {
        say(sentence, "%s", k == 0 ? "" : k == 1 ? ", but " : ", ");
        say_band(sentence, &band[k]);
    }
}

static void say_demand(struct sentence *sentence, const struct tariff *tariff)
{
    for (int k = 0; k < tariff->demand_count; k++)
        say(sentence, "; a demand charge of %.4g a kW and %s", tariff->demand[k].price_micro / 1e6,
            tariff->demand[k].per == TARIFF_PER_DAY ? "day" : "month");
}

static void tell_tariff(struct sentence *sentence, const struct tariff *tariff)
{
    say(sentence, "Tariff: energy from the grid costs ");
    say_bands(sentence, tariff->band, tariff->count);
    say(sentence, "; exported energy earns %.4g a kWh", tariff->feed_in_micro / 1e6);
    if (tariff->feed_in_count > 0) {
        say(sentence, ", but ");
        say_bands(sentence, tariff->feed_in_band, tariff->feed_in_count);
    }
    if (tariff->daily_micro != 0)
        say(sentence, "; %.4g a day for the supply", tariff->daily_micro / 1e6);
    say_demand(sentence, tariff);
    if (tariff->controlled.there) {
        say(sentence, "; on the off-peak supply ");
        say_bands(sentence, tariff->controlled.band, tariff->controlled.count);
    }
    say(sentence, ".");
    sentence_end(sentence);
}

static void say_day(struct sentence *sentence, int32_t day)
{
    struct date date = date_of_days(day);
    say(sentence, "%d %s %d", date.day, month_name(date.month), date.year);
}

static void tell_validity(struct sentence *sentence)
{
    const struct comparison *comparison = sentence->comparison;
    say(sentence, "Made on ");
    say_day(sentence, comparison->made_on);
    say(sentence, "; prices hold until ");
    say_day(sentence, comparison->made_on + comparison->compare->wish.quote->valid_days);
    say(sentence, ".");
    sentence_end(sentence);
}

static void tell_installer(struct sentence *sentence)
{
    const struct installer *installer = &sentence->comparison->settings->installer;
    const char *const parts[] = {installer->name, installer->phone, installer->email};
    if (!*installer->name) {
        say(sentence, "Installer: not stated (settings, site: installer).");
        sentence_end(sentence);
        return;
    }
    say(sentence, "Installer: ");
    for (size_t k = 0; k < sizeof parts / sizeof parts[0]; k++)
        if (*parts[k])
            say(sentence, "%s%s", k > 0 ? ", " : "", parts[k]);
    if (*installer->licence)
        say(sentence, ", licence %s", installer->licence);
    say(sentence, ".");
    sentence_end(sentence);
}

void compare_tell_terms(const struct comparison *comparison, compare_line *line, void *context)
{
    struct sentence sentence;
    sentence_begin(&sentence, comparison, line, context);
    tell_installer(&sentence);
    tell_validity(&sentence);
    tell_tariff(&sentence, comparison->compare->wish.home->tariff);
}
