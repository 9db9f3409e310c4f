/* loss.c - a file that may have been cut off while it was written.
 *
 * YAML has no end mark: a file cut after a whole load is a smaller house and nothing is
 * wrong with it, but a pump is no longer switched, or a tank no longer heated through. So
 * settings are compared with those in force before they replace them. What is lost may be
 * meant; then a person says so. */
#include <string.h>

#include "settings.h"

/* The first is named, the others counted: what to do about it must fit behind them. */
struct losses {
    const char *what, *name;
    int count;
};

static void lost(struct losses *losses, const char *what, const char *name)
{
    if (losses->count++ == 0) {
        losses->what = what;
        losses->name = name;
    }
}

static void write_losses(const struct losses *losses, struct text *why)
{
    text_add(why, "%s %s", losses->what, losses->name);
    if (losses->count > 1)
        text_add(why, " and %d more are", losses->count - 1);
    text_add(why, "%s gone: renamed or removed, or is the file cut off?",
             losses->count > 1 ? "" : " is");
}

static void find_lost_loads(const struct settings *before, const struct settings *after,
                            struct losses *losses)
{
    for (uint16_t i = 0; i < before->rules.load_count; i++) {
        const char *name = before->names[i].name;
        int j = settings_find_load(after, name);
        if (j < 0)
            lost(losses, "load", name);
        else if (after->loads[j].floor_count < before->loads[i].floor_count)
            lost(losses, "a floor of", name);
    }
}

static bool has_meter(const struct settings *settings, const char *name)
{
    for (uint8_t k = 0; k < settings->meter_count; k++)
        if (strcmp(settings->meters[k].name, name) == 0)
            return true;
    return false;
}

static bool is_beginning_of(const struct settings_source *part, const struct settings_source *whole)
{
    return part->size < whole->size && memcmp(part->bytes, whole->bytes, part->size) == 0;
}

static bool is_same(const struct settings_source *a, const struct settings_source *b)
{
    return a->size == b->size && memcmp(a->bytes, b->bytes, a->size) == 0;
}

bool settings_end_is_open(const struct settings *settings)
{
    const struct settings_source *source = &settings->source;
    return source->size > 0 && source->bytes[source->size - 1] != '\n';
}

bool settings_look_cut(const struct settings *before, const struct settings *after,
                       struct text *why)
{
    struct losses losses = {.count = 0};
    if (is_same(&before->source, &after->source))
        return false;
    find_lost_loads(before, after, &losses);
    for (uint8_t k = 0; k < before->meter_count; k++)
        if (!has_meter(after, before->meters[k].name))
            lost(&losses, "meter", before->meters[k].name);
    for (uint8_t k = 0; k < before->input_count; k++)
        if (settings_find_input(after, before->inputs[k].name) < 0)
            lost(&losses, "input", before->inputs[k].name);
    for (uint8_t k = 0; k < before->sensor_count; k++)
        if (settings_find_sensor(after, before->sensors[k].name) < 0)
            lost(&losses, "sensor", before->sensors[k].name);
    if (losses.count > 0)
        write_losses(&losses, why);
    else if (is_beginning_of(&after->source, &before->source))
        text_add(why, "this is the file in force without its end: is it cut off?");
    else if (settings_end_is_open(after))
        text_add(why, "its last line has no line feed: is it cut off?");
    else
        return false;
    return true;
}
