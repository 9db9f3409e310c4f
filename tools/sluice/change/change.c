/* change.c - `set` and `undo`. */
#include "change.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "put.h"
#include "settings/edit.h"
#include "sluice/options.h"
#include "sluice/setup/read_settings.h"

const char set_help[] =
    "KEY is as \"sluice explain\" lists it, with the name of the load or meter:\n"
    "\"loads.water-heater.minimum_on\"; an entry of a list by its place from 1:\n"
    "\"loads.water-heater.floors.1.by\". Comments and layout of the file stay. What\n"
    "changes is shown, and put in force; where the new settings are wrong or sluiced\n"
    "refuses them, nothing changes. The file before is kept: \"sluice undo\".\n"
    "\n"
    "  --try            says what would change, and changes nothing\n"
    "  --settings FILE  default /etc/sluice/sluice.yaml\n"
    "  --maps DIR       the register maps that the settings name\n";

const char undo_help[] =
    "The file is byte for byte as it was before the last \"sluice set\"; once more, and\n"
    "it is as before the one before that. Refused where the file was edited since.\n"
    "\n"
    "  --try            says what would change, and changes nothing\n"
    "  --settings FILE  default /etc/sluice/sluice.yaml\n"
    "  --maps DIR       the register maps that the settings name\n";

/* Options that both have; the number of words, or below 0 when all is said. */
static int read_options(struct invocation *at, struct put_wish *wish, int argc, char *argv[])
{
    wish->settings = SETTINGS_DEFAULT;
    const struct option_row rows[] = {
        {"--settings", &wish->settings, NULL, "the settings file"},
        {"--maps", &wish->maps, NULL, "the folder of the meter maps"},
        {"--try", NULL, &wish->try_only, NULL},
        {0},
    };
    int words = options_read(at, rows, argc, argv);
    /* The file itself, where a link leads to it: a link must not become a file. */
    static char file[PATH_MAX];
    if (words >= 0 && realpath(wish->settings, file))
        wish->settings = file;
    return words;
}

static enum status open_past(struct past *past, const struct put_wish *wish)
{
    struct trouble trouble;
    if (past_open(past, wish->settings, !wish->try_only, &trouble))
        return STATUS_DONE;
    return complain(STATUS_NOT_THERE, "%s%s%s", trouble.place, *trouble.place ? ": " : "",
                    trouble.text);
}

/* ---- set ---------------------------------------------------------------------------------------
 */

static enum status set(struct invocation *at, const struct put_wish *wish, struct past *past,
                       const char *key, const char *value)
{
    struct edit edit;
    struct trouble trouble;
    size_t size;
    if (!settings_edit(wish->settings, key, value, &edit, &trouble))
        return complain(STATUS_REFUSED, "%s%s%s", trouble.place, *trouble.place ? ": " : "",
                        trouble.text);
    char *now = put_read(wish->settings, &size);
    bool same = now && size == edit.size && memcmp(now, edit.bytes, size) == 0;
    free(now);
    enum status status = STATUS_DONE;
    if (same)
        printf("%s is %s already: nothing to change\n", key, value);
    else
        status = put_settings(at, wish, past, NULL, 0, edit.bytes, edit.size);
    free(edit.bytes);
    return status;
}

enum status set_main(struct invocation *at, int argc, char *argv[])
{
    struct put_wish wish = {0};
    struct past past;
    int words = read_options(at, &wish, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 2)
        return complain_usage(at, "set");
    enum status status = open_past(&past, &wish);
    if (status == STATUS_DONE)
        status = set(at, &wish, &past, argv[1], argv[2]);
    past_close(&past);
    return status;
}

/* ---- undo --------------------------------------------------------------------------------------
 */

/* A file that somebody edited since is no longer what the change left. */
static bool is_what_it_left(const char *settings, const struct past_change *change)
{
    char sum[SHA256_TEXT_SIZE];
    size_t size;
    char *now = put_read(settings, &size);
    if (now)
        sha256_text(now, size, sum);
    free(now);
    return now && strcmp(sum, change->after) == 0;
}

static enum status undo(struct invocation *at, const struct put_wish *wish, struct past *past)
{
    char path[PAST_PATH_MAX], what[PAST_WHAT_MAX];
    size_t size;
    const struct past_change *last = past_newest(past);
    if (!last)
        return complain(STATUS_REFUSED,
                        "no change was made with \"sluice set\" that is not undone");
    if (!is_what_it_left(wish->settings, last))
        return complain(STATUS_REFUSED,
                        "\"%s\" was edited since change %d: \"sluice diff %d\" shows what it was "
                        "before; nothing was changed",
                        wish->settings, last->number, last->number);
    past_before(past, last->number, path);
    char *bytes = put_read(path, &size);
    if (!bytes)
        return STATUS_NOT_THERE;
    snprintf(what, sizeof(what), "undid %d: %.600s", last->number, last->what);
    enum status status = put_settings(at, wish, past, what, last->number, bytes, size);
    free(bytes);
    return status;
}

enum status undo_main(struct invocation *at, int argc, char *argv[])
{
    struct put_wish wish = {0};
    struct past past;
    int words = read_options(at, &wish, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 0)
        return complain_usage(at, "undo");
    enum status status = open_past(&past, &wish);
    if (status == STATUS_DONE)
        status = undo(at, &wish, &past);
    past_close(&past);
    return status;
}
