/* read_settings.c - settings are used without mistakes or not at all. */
#include "read_settings.h"

#include <stdio.h>

static void complain_of(const char *path, const struct settings_troubles *troubles)
{
    for (int k = 0; k < troubles->count; k++) {
        const struct trouble *trouble = &troubles->item[k];
        fprintf(stderr, "%s: %s\n", trouble->place[0] ? trouble->place : path, trouble->text);
    }
    fprintf(stderr, "%s: %d error%s: sluiced would reject this file\n", path, troubles->count,
            troubles->count == 1 ? "" : "s");
}

struct settings *read_settings(const char *path, const char *maps, struct quote_settings *quote,
                               enum status *status)
{
    FILE *file = fopen(path, "re");
    if (!file) {
        *status = complain(STATUS_NOT_THERE,
                           "\"%s\" cannot be read: %m; a settings file is expected", path);
        return NULL;
    }
    fclose(file);
    struct settings_troubles troubles = {0};
    struct quote_settings unused;
    quote = quote ? quote : &unused;
    *quote = (struct quote_settings){.years = 0};
    const struct settings_more more = {&quote_section, quote};
    struct settings *settings = settings_load(path, maps, &more, &troubles);
    *status = settings ? STATUS_DONE : STATUS_REFUSED;
    if (!settings)
        complain_of(path, &troubles);
    settings_troubles_free(&troubles);
    return settings;
}

struct settings *read_settings_if_sound(const char *path, const char *maps)
{
    struct settings_troubles troubles = {0};
    struct settings *settings = settings_load(path, maps, NULL, &troubles);
    settings_troubles_free(&troubles);
    return settings;
}
