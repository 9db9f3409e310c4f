/* compare_names.c - what each way is called, what of the home's hardware it changes, and its
 * price piece by piece. */
#include "compare_sentence.h"

const char *compare_way_name(enum compare_way way)
{
    static const char *const names[WAY_COUNT] = {
        [WAY_ALWAYS_ON] = "always on",
        [WAY_REFITTED] = "always on",
        [WAY_TIMER] = "clock timer",
        [WAY_CONTROLLED] = "off-peak supply",
        [WAY_DIVERTER] = "diverter",
        [WAY_SLUICE] = "sluice as set",
        [WAY_TUNED] = "sluice, tuned",
        [WAY_CONTACTOR] = "sluice, contactor",
        [WAY_STAGES] = "sluice, stages",
        [WAY_REGULATOR] = "sluice, regulator",
        [WAY_FORESIGHT_SWITCHED] = "foreseen, on/off",
        [WAY_FORESIGHT_PROPORTIONAL] = "foreseen, any W",
    };
    return names[way];
}

static const struct hardware *hardware_of(const struct comparison *comparison, enum compare_way way)
{
    return &comparison->compare->fit[way].hardware;
}

static bool has_other_element(const struct comparison *comparison, enum compare_way way)
{
    const struct hardware *own = hardware_of(comparison, way);
    const struct hardware *present = &comparison->compare->present;
    return own->element_w != present->element_w || own->stages != present->stages;
}

static void write_element(const struct hardware *hardware, struct text *text)
{
    if (hardware->stages > 1)
        text_add(text, "%dx", hardware->stages);
    text_add(text, "%.1f kW", hardware->element_w / hardware->stages / 1000.0);
}

void compare_write_hardware(const struct comparison *comparison, enum compare_way way,
                            struct text *text)
{
    const struct hardware *own = hardware_of(comparison, way);
    const char *space = "";
    if (compare_is_bound(way))
        return;
    if (has_other_element(comparison, way)) {
        write_element(own, text);
        space = " ";
    }
    if (own->set_mc != comparison->compare->present.set_mc) {
        text_add(text, "%s%d°", space, own->set_mc / 1000);
        space = " ";
    }
    if (own->sensor)
        text_add(text, "%ssensor", space);
}

void compare_write_name(const struct comparison *comparison, enum compare_way way,
                        struct text *text)
{
    char buffer[48] = "";
    struct text hardware = text_in(buffer, sizeof(buffer));
    compare_write_hardware(comparison, way, &hardware);
    text_add(text, "%s%s%s", compare_way_name(way), *buffer ? " " : "", buffer);
}

void compare_write_purchase(const struct comparison *comparison, enum compare_way way,
                            struct text *text)
{
    static const char *const names[WAY_COUNT] = {
        [WAY_ALWAYS_ON] = "nothing",         [WAY_REFITTED] = "no switch",
        [WAY_TIMER] = "the clock timer",     [WAY_CONTROLLED] = "the off-peak supply",
        [WAY_DIVERTER] = "the diverter",     [WAY_SLUICE] = "sluice as set",
        [WAY_TUNED] = "sluice as tuned",     [WAY_CONTACTOR] = "sluice with a contactor",
        [WAY_STAGES] = "sluice with stages", [WAY_REGULATOR] = "sluice with a regulator",
    };
    const struct hardware *own = hardware_of(comparison, way);
    const struct hardware *present = &comparison->compare->present;
    const char *joint = " with ";
    text_add(text, "%s", names[way]);
    if (has_other_element(comparison, way)) {
        text_add(text, "%s%s", way == WAY_REFITTED ? ", but " : joint,
                 own->stages > 1 ? "" : "an ");
        text_add(text, own->stages > 1 ? "elements of " : "element of ");
        write_element(own, text);
        joint = " and ";
    }
    if (own->sensor) {
        text_add(text, "%sa tank sensor", joint);
        joint = " and ";
    }
    if (own->set_mc != present->set_mc)
        text_add(text, "%s thermostat %s to %d °C",
                 way == WAY_REFITTED && !has_other_element(comparison, way) ? ", only the"
                                                                            : ", the",
                 own->set_mc < present->set_mc ? "turned down" : "turned up", own->set_mc / 1000);
}

void compare_tell_items(const struct comparison *comparison, compare_line *line, void *context)
{
    const struct compare *compare = comparison->compare;
    struct sentence sentence;
    sentence_begin(&sentence, comparison, line, context);
    for (int way = 0; way < WAY_FORESIGHT_SWITCHED; way++) {
        struct price_item items[PRICE_ITEMS_MAX];
        if (!comparison->verdict->offer[way].there)
            continue;
        int count = hardware_items(compare->wish.quote, &compare->present,
                                   hardware_of(comparison, (enum compare_way)way), items);
        if (count == 0)
            continue;
        compare_write_name(comparison, (enum compare_way)way, &sentence.text);
        say(&sentence, ": ");
        say_money(&sentence, comparison->verdict->offer[way].cost);
        say(&sentence, " = ");
        for (int k = 0; k < count; k++) {
            say(&sentence, "%s%s", k > 0 ? " + " : "", items[k].what);
            if (items[k].count > 1)
                say(&sentence, " %dx", items[k].count);
            say(&sentence, " %.0f", items[k].cost);
        }
        sentence_end(&sentence);
    }
}
