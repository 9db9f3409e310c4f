/* settings_file.c - reading the file at hand, and doing without it.
 *
 * A daemon that runs keeps its settings whatever becomes of the file. One that starts has
 * only what lies on the disk: the file at hand, and the last one that was accepted. */
#include "settings_file.h"

#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "accepted.h"
#include "core/text.h"
#include "loop/log.h"
#include "settings/trouble_list.h"
#include "troubles.h"

struct settings *settings_file_read(const char *file, const char *maps,
                                    struct settings_troubles *troubles)
{
    struct stat found;
    if (stat(file, &found) == 0 && !S_ISREG(found.st_mode) && !S_ISDIR(found.st_mode)) {
        trouble_add(troubles, (struct place){.file = file}, "is a pipe or device, not a file");
        return NULL;
    }
    struct settings *settings = settings_load(file, maps, NULL, troubles);
    for (int k = 0; settings && k < settings->notices.count; k++)
        log_line(LOG_LEVEL_NOTICE, "%s: %s", settings->notices.item[k].place,
                 settings->notices.item[k].text);
    return settings;
}

static void log_all(const struct settings_troubles *troubles)
{
    for (int k = 0; k < troubles->count; k++)
        log_line(LOG_LEVEL_ERROR, "%s: %s", troubles->item[k].place, troubles->item[k].text);
}

static struct settings *read_logged(const struct settings_place *place,
                                    char refusal[static TROUBLE_TEXT_MAX])
{
    struct settings_troubles troubles = {0};
    struct text text = text_in(refusal, TROUBLE_TEXT_MAX);
    struct settings *settings = settings_file_read(place->file, place->maps, &troubles);
    log_all(&troubles);
    if (troubles.count > 0)
        text_add(&text, "%s: %s%s", troubles.item[0].place, troubles.item[0].text,
                 troubles.count > 1 ? " (and more)" : "");
    settings_troubles_free(&troubles);
    return settings;
}

static struct settings *load_accepted(const struct settings_place *place, struct wall *at)
{
    struct settings_troubles troubles = {0};
    struct settings *settings =
        place->state_dir ? accepted_load(place->state_dir, &troubles, at) : NULL;
    log_all(&troubles);
    settings_troubles_free(&troubles);
    return settings;
}

/* Takes `kept`, or frees it. */
static void choose(const struct settings_place *place, struct settings_choice *choice,
                   struct settings *kept)
{
    char why[TROUBLE_TEXT_MAX];
    struct text cut = text_in(why, sizeof(why));
    if (choice->settings && kept && settings_look_cut(kept, choice->settings, &cut)) {
        struct text refusal = text_in(choice->refusal, sizeof(choice->refusal));
        text_add(&refusal, SETTINGS_LOOK_CUT, place->file, why);
        settings_free(choice->settings);
        choice->settings = NULL;
    }
    if (choice->settings) {
        settings_free(kept);
        return;
    }
    choice->settings = kept;
    choice->last_accepted = kept != NULL;
    if (kept)
        log_line(LOG_LEVEL_ERROR, "the last accepted settings are used: %s", choice->refusal);
}

void settings_choose(const struct settings_place *place, struct settings_choice *choice)
{
    *choice = (struct settings_choice){.last_accepted = false};
    choice->settings = read_logged(place, choice->refusal);
    choose(place, choice, load_accepted(place, &choice->at));
}

void settings_choose_last(const struct settings_place *place, struct settings_choice *choice)
{
    *choice = (struct settings_choice){.last_accepted = true};
    choice->settings = load_accepted(place, &choice->at);
    if (choice->settings)
        return;
    choice->last_accepted = false;
    choice->settings = read_logged(place, choice->refusal);
}

void settings_tell_secrets(struct common *common)
{
    char told[SITE_TROUBLE_TEXT_MAX];
    struct text text = text_in(told, sizeof(told));
    if (settings_secret_open(common->settings, getegid(), &text))
        site_trouble(common, "secrets", "%s", told);
    else
        site_solved(common, "secrets");
}
