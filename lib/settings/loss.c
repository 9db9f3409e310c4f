/* loss.c - a file that may have been cut off while it was written.
 *
 * YAML has no end mark: a file cut after a whole load is a smaller house and nothing is
 * wrong with it, but a pump is no longer switched, or a tank no longer heated through. So
 * settings are compared with those in force before they replace them. What is lost may be
 * meant; then a person says so. */
#include <string.h>

#include "settings.h"

struct losses {
    struct text *text;
    int count;
};

static void lost(struct losses *losses, const char *what, const char *name)
{
    text_add(losses->text, "%s%s %s", losses->count++ ? ", " : "it lost ", what, name);
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
    struct losses losses = {.text = why};
    if (is_same(&before->source, &after->source))
        return false;
    find_lost_loads(before, after, &losses);
    for (uint8_t k = 0; k < before->meter_count; k++)
        if (!has_meter(after, before->meters[k].name))
            lost(&losses, "meter", before->meters[k].name);
    if (losses.count > 0)
        return true;
    if (is_beginning_of(&after->source, &before->source))
        text_add(why, "it is the one in force with its end cut off");
    else if (settings_end_is_open(after))
        text_add(why, "its last line has no line feed, so it may be cut off");
    else
        return false;
    return true;
}
