/* look_back.c - `history` and `diff`: what was changed, by whom, and what is not in force. */
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "change.h"
#include "core/text.h"
#include "past.h"
#include "settings/edit.h"
#include "sluice/options.h"
#include "sluice/setup/read_settings.h"

const char history_help[] =
    "Each change by \"sluice set\" and \"sluice undo\": its number, when (UTC), who, from\n"
    "which address (as the login says), and what. Other edits are not in it.\n"
    "\n"
    "  --settings FILE  default /etc/sluice/sluice.yaml\n";

const char diff_help[] =
    "Without a number: how the file differs from the settings that sluiced last\n"
    "accepted. With one: how it differs from the file before that change.\n"
    "\n"
    "  --settings FILE  default /etc/sluice/sluice.yaml\n"
    "  --maps DIR       the register maps that the settings name\n";

/* ---- history -----------------------------------------------------------------------------------
 */

static void print_change(const struct past_change *change)
{
    printf("%4d  %s  %s%s%s%s\n      %s\n", change->number, change->at,
           *change->who ? change->who : "not known who", *change->from ? " from " : "",
           change->from, change->undone ? "  (undone)" : "", change->what);
}

enum status history_main(struct invocation *at, int argc, char *argv[])
{
    const char *settings = SETTINGS_DEFAULT;
    const struct option_row rows[] = {{"--settings", &settings, NULL, "the settings file"}, {0}};
    struct past past;
    struct trouble trouble;
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 0)
        return complain_usage(at, "history");
    if (access(settings, F_OK) != 0)
        return complain(STATUS_NOT_THERE, "\"%s\" cannot be read: %m", settings);
    if (!past_open(&past, settings, false, &trouble))
        return complain(STATUS_NOT_THERE, "%s%s%s", trouble.place, *trouble.place ? ": " : "",
                        trouble.text);
    for (int k = 0; k < past.count; k++)
        print_change(&past.change[k]);
    if (past.count == 0)
        printf("no change was made to %s with \"sluice set\"\n", settings);
    past_close(&past);
    return STATUS_DONE;
}

/* ---- diff --------------------------------------------------------------------------------------
 */

static void print_value(void *context, const char *key, const char *before, const char *after)
{
    int *count = context;
    (*count)++;
    printf("%s: %s -> %s\n", key, before ? before : "not set", after ? after : "not set");
}

/* The settings in force are kept beside the ledger that the file names. */
static enum status accepted_path(const char *settings_path, const char *maps,
                                 char path[static PAST_PATH_MAX])
{
    enum status status;
    struct settings *settings = read_settings(settings_path, maps, NULL, &status);
    if (!settings)
        return status;
    const char *slash = strrchr(settings->ledger.path, '/');
    int length = slash ? (int)(slash - settings->ledger.path) : 0;
    snprintf(path, PAST_PATH_MAX, "%.*s/accepted/sluice.yaml", length, settings->ledger.path);
    settings_free(settings);
    if (access(path, R_OK) == 0)
        return STATUS_DONE;
    return complain(STATUS_NOT_THERE,
                    "\"%s\" cannot be read: %m; sluiced has accepted none yet, "
                    "or you are not in its group",
                    path);
}

static enum status earlier_path(const char *settings, const char *word,
                                char path[static PAST_PATH_MAX])
{
    struct past past;
    struct trouble trouble;
    char *end;
    long number = strtol(word, &end, 10);
    if (*end || number < 1 || number > INT_MAX)
        return complain(STATUS_USAGE,
                        "\"%s\" is not the number of a change: \"sluice history\" "
                        "lists them",
                        word);
    if (!past_open(&past, settings, false, &trouble))
        return complain(STATUS_NOT_THERE, "%s%s%s", trouble.place, *trouble.place ? ": " : "",
                        trouble.text);
    past_before(&past, (int)number, path);
    past_close(&past);
    if (access(path, R_OK) == 0)
        return STATUS_DONE;
    return complain(STATUS_REFUSED,
                    "the file before change %ld is not kept: \"sluice history\" "
                    "lists the changes",
                    number);
}

static enum status diff(const char *before, const char *after, const char *than)
{
    struct trouble trouble;
    int count = 0;
    if (!settings_compare(before, after, print_value, &count, &trouble))
        return complain(STATUS_REFUSED, "%s: %s", trouble.place, trouble.text);
    if (count == 0)
        printf("no value differs from %s\n", than);
    return STATUS_DONE;
}

enum status diff_main(struct invocation *at, int argc, char *argv[])
{
    const char *settings = SETTINGS_DEFAULT, *maps = NULL;
    const struct option_row rows[] = {{"--settings", &settings, NULL, "the settings file"},
                                      {"--maps", &maps, NULL, "the folder of the meter maps"},
                                      {0}};
    char path[PAST_PATH_MAX];
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words > 1)
        return complain_usage(at, "diff");
    enum status status =
        words == 1 ? earlier_path(settings, argv[1], path) : accepted_path(settings, maps, path);
    if (status != STATUS_DONE)
        return status;
    return diff(path, settings,
                words == 1 ? "the file before that change" : "what sluiced has accepted");
}
