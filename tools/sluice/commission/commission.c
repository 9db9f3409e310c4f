/* commission.c - `sluice commission`: through the table of steps, each result on the disk before
 * the next one begins. */
#include "commission.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "first_settings.h"
#include "record.h"
#include "sluice/handover/sha256.h"
#include "sluice/live/control.h"
#include "sluice/live/say.h"
#include "sluice/live/test_run.h"
#include "sluice/options.h"
#include "sluice/setup/read_settings.h"

const char commission_help[] =
    "  Step by step at the switchboard: settings, meter, sign, phases, each output,\n"
    "  fail state, clock, broker, storage. Loads are switched one by one, and left as\n"
    "  they were. Each result is kept at once: the next run goes on where this one\n"
    "  ended, and takes up what was not possible then. Ends with a record as Markdown\n"
    "  and as HTML for A4.\n"
    "    --new             before sluiced runs: asks, looks for the meter on its\n"
    "                      line, and writes commented settings, only such as\n"
    "                      sluiced accepts\n"
    "    --yes             asks nothing and switches the loads; what needs a person\n"
    "                      is skipped\n"
    "    --again STEP      does that step once more (output, output:water-heater)\n"
    "    --restart         begins anew; the old results are kept as FILE.old\n"
    "    --state FILE      commission.json, beside the ledger\n"
    "    --record FILE     NAME.md or NAME.html; without either ending both.\n"
    "                      Default: commission-record, beside the state\n"
    "    --settings FILE   the file that sluiced runs\n"
    "    --maps DIR        the folder of the meter maps; default: meters, beside the\n"
    "                      settings\n"
    "\n"
    "Exit status 0: nothing failed and nothing is left to do; 1: not so.\n"
    "Off is not isolation: isolate all supplies and prove dead before opening.\n";

struct wishes {
    const char *state, *record, *settings, *maps, *again;
    bool yes, restart, new_house;
};

struct paths {
    char state[4096], record[4096], settings[4096];
};

/* ---- one step -------------------------------------------------------------------------------- */

static enum page_colour colour_of(enum step_outcome outcome)
{
    return outcome == STEP_PASS ? PAGE_GREEN : outcome == STEP_FAIL ? PAGE_RED : PAGE_BOLD;
}

static void tell_labelled(const struct session *session, const char *label, const char *words_of,
                          enum page_colour colour)
{
    char line[EVIDENCE_MAX + 80];
    snprintf(line, sizeof(line), "%s%s%s", label, *words_of ? ": " : "", words_of);
    ask_tell(&session->asking, 2, colour, line);
}

static void tell_result(const struct session *session, const struct step_result *result)
{
    tell_labelled(session, step_outcome_words(result->outcome), result->evidence,
                  colour_of(result->outcome));
    if (*result->caution)
        tell_labelled(session, "caution", result->caution, PAGE_PLAIN);
}

static void tell_title(const struct session *session, const struct walk_step *at, int place,
                       int count)
{
    char line[160];
    snprintf(line, sizeof(line), "%d of %d: %s", place, count, at->title);
    ask_tell(&session->asking, 0, PAGE_BOLD, line);
}

/* Whoever is there has the last word on what was read. */
static void confirm(struct session *session, const struct walk_step *at, struct step_result *result)
{
    if (result->outcome != STEP_PASS || !at->step->agrees)
        return;
    if (session->asking.nobody) {
        step_add(result, "not compared by a person");
        return;
    }
    tell_labelled(session, "so far", result->evidence, PAGE_PLAIN);
    switch (session_ask(session, ANSWER_YES, at->step->agrees)) {
    case ANSWER_YES:
        step_add(result, "agrees, as seen at the switchboard");
        break;
    case ANSWER_NO:
        result->outcome = STEP_FAIL;
        step_add(result, "does not agree with what was seen at the switchboard");
        break;
    default:
        step_add(result, "not compared");
    }
}

static enum status do_step(struct session *session, const struct walk_step *at, int place,
                           int count)
{
    struct step_result result = {.outcome = STEP_OPEN};
    tell_title(session, at, place, count);
    tell_labelled(session, "Why", at->step->why, PAGE_PLAIN);
    tell_labelled(session, "Look at", at->step->look, PAGE_PLAIN);
    at->step->run(session, at->index, &result);
    if (!session->stopped)
        confirm(session, at, &result);
    if (result.outcome == STEP_OPEN || session->stopped)
        return STATUS_DONE;
    progress_put(&session->progress, at->id, &result, words(session->status, "time"));
    enum status status = progress_save(&session->progress);
    tell_result(session, &result);
    return status;
}

/* ---- all of them ------------------------------------------------------------------------------
 */

static bool is_done(const struct session *session, const struct walk_step *at)
{
    struct step_result result;
    if (!progress_result(&session->progress, at->id, &result, NULL))
        return false;
    return result.outcome != STEP_NOT_NOW &&
           (result.outcome != STEP_NEEDS_PERSON || session->asking.nobody);
}

static void tell_done(const struct session *session, const struct walk_step *at, int place,
                      int count)
{
    struct step_result result;
    char line[240];
    const char *time = "";
    progress_result(&session->progress, at->id, &result, &time);
    snprintf(line, sizeof(line), "%d of %d: %s: %s (%.16s)", place, count, at->title,
             step_outcome_words(result.outcome), time);
    ask_tell(&session->asking, 0, PAGE_PLAIN, line);
}

static enum status do_steps(struct session *session, const struct walk_step walk[], int count)
{
    enum status status = STATUS_DONE;
    for (int k = 0; k < count && !session->stopped && status == STATUS_DONE; k++) {
        if (is_done(session, &walk[k]))
            tell_done(session, &walk[k], k + 1, count);
        else
            status = do_step(session, &walk[k], k + 1, count);
    }
    return status;
}

static void keep_readings(struct session *session, const char *key)
{
    static const char *const kept[] = {"time", "reading", "import_mwh", "export_mwh"};
    cJSON *part = cJSON_CreateObject();
    for (size_t k = 0; k < sizeof(kept) / sizeof(kept[0]); k++) {
        const cJSON *item = get(session->status, kept[k]);
        if (item)
            cJSON_AddItemToObject(part, kept[k], cJSON_Duplicate(item, true));
    }
    progress_put_part(&session->progress, key, part);
    cJSON_Delete(part);
}

static void ask_installer(struct session *session)
{
    char name[64] = "";
    if (session->asking.nobody || *session->settings->installer.name ||
        *progress_word(&session->progress, "installer"))
        return;
    if (!ask_line(&session->asking, "Your name, for the record (Enter: none):", name, sizeof(name)))
        session_stop(session, "standard input has ended");
    progress_put_word(&session->progress, "installer", name);
}

/* False: there is no such step. */
static bool do_again(struct session *session, const struct walk_step walk[], int count,
                     const char *wish)
{
    const char *names[WALK_MAX];
    bool found = false;
    for (int k = 0; k < count; k++) {
        names[k] = walk[k].id;
        if (strcmp(walk[k].id, wish) != 0 && strcmp(walk[k].step->id, wish) != 0)
            continue;
        progress_forget(&session->progress, walk[k].id);
        steps_forget_tests(&session->progress, walk[k].id);
        found = true;
    }
    const char *nearest = found ? NULL : text_nearest(wish, names, (size_t)count);
    if (!found)
        complain(STATUS_USAGE, "\"%s\" is not a step%s%s%s", wish,
                 nearest ? "; do you mean \"" : "", nearest ? nearest : "", nearest ? "\"?" : "");
    return found;
}

/* ---- the end
 * ------------------------------------------------------------------------------------- */

static enum status conclude(struct session *session, const struct walk_step walk[], int count,
                            const struct paths *paths)
{
    char line[CAUTION_MAX + 80];
    struct text text = text_in(line, sizeof(line));
    if (session->stopped)
        snprintf(line, sizeof(line),
                 "Stopped here: %s. \"sluice commission\" goes on at this step.", session->why);
    else
        session_look(session);
    if (session->stopped)
        ask_tell(&session->asking, 0, PAGE_BOLD, line);
    keep_readings(session, "after");
    struct walk_tally tally = walk_count(session, walk, count);
    walk_tally_write(&tally, &text);
    ask_tell(&session->asking, 0, PAGE_BOLD, line);
    enum status status = progress_save(&session->progress);
    if (status == STATUS_DONE)
        status = record_write(session, paths->settings, paths->record);
    if (status != STATUS_DONE)
        return status;
    int left = tally.of[STEP_OPEN] + tally.of[STEP_NOT_NOW] + tally.of[STEP_NEEDS_PERSON];
    return tally.of[STEP_FAIL] + left > 0 ? STATUS_REFUSED : STATUS_DONE;
}

static enum status go_through(struct session *session, const struct wishes *wishes,
                              const struct paths *paths)
{
    struct walk_step walk[WALK_MAX];
    int count = walk_of(session->settings, walk);
    if (wishes->again && !do_again(session, walk, count, wishes->again))
        return STATUS_USAGE;
    steps_forget_unclear(session);
    if (!progress_part(&session->progress, "before"))
        keep_readings(session, "before");
    enum status status = progress_save(&session->progress);
    if (status == STATUS_DONE)
        ask_installer(session);
    if (status == STATUS_DONE)
        status = do_steps(session, walk, count);
    return status == STATUS_DONE ? conclude(session, walk, count, paths) : status;
}

/* ---- the beginning
 * -------------------------------------------------------------------------------- */

/* Somebody else's file, named by mistake, must not be lost. */
static enum status put_aside(const char *path)
{
    char old[4096 + 8];
    snprintf(old, sizeof(old), "%s.old", path);
    if (rename(path, old) == 0 || errno == ENOENT)
        return STATUS_DONE;
    return complain(STATUS_NOT_THERE, "\"%s\" cannot be kept as \"%s\": %m", path, old);
}

static void name_beside(char path[static 4096], const char *of, const char *name)
{
    const char *slash = strrchr(of, '/');
    struct text text = text_in(path, 4096);
    text_add(&text, "%.*s%s", slash ? (int)(slash + 1 - of) : 0, of, name);
}

static void choose_paths(struct paths *paths, const struct wishes *wishes,
                         const struct settings *settings)
{
    name_beside(paths->state, settings->ledger.path, "commission.json");
    if (wishes->state)
        snprintf(paths->state, sizeof(paths->state), "%s", wishes->state);
    name_beside(paths->record, paths->state, "commission-record");
    if (wishes->record)
        snprintf(paths->record, sizeof(paths->record), "%s", wishes->record);
}

static enum status begin(struct session *session, const struct wishes *wishes,
                         const struct paths *paths)
{
    const struct settings *settings = session->settings;
    if (!is(session->status, "site", settings->site_name))
        return complain(STATUS_REFUSED, "the sluiced that answers runs another house, \"%.60s\"",
                        words(session->status, "site"));
    sha256_text(settings->source.bytes, settings->source.size, session->progress.settings);
    session->progress.path = paths->state;
    enum status status = wishes->restart ? put_aside(paths->state) : STATUS_DONE;
    if (status == STATUS_DONE)
        status = progress_open(&session->progress, settings->site_name);
    if (status == STATUS_DONE)
        status = go_through(session, wishes, paths);
    progress_close(&session->progress);
    return status;
}

static enum status commission(struct session *session, const struct wishes *wishes)
{
    struct paths paths;
    enum status status;
    struct trouble trouble;
    session->status = control_status(session->socket, &trouble);
    if (!session->status)
        return complain(STATUS_NOT_THERE, "%s", trouble.text);
    const char *runs = words(get(session->status, "settings"), "file");
    snprintf(paths.settings, sizeof(paths.settings), "%s",
             wishes->settings ? wishes->settings
             : *runs          ? runs
                              : SETTINGS_DEFAULT);
    struct settings *settings = read_settings(paths.settings, wishes->maps, NULL, &status);
    if (settings) {
        session->settings = settings;
        choose_paths(&paths, wishes, settings);
        status = begin(session, wishes, &paths);
    }
    settings_free(settings);
    cJSON_Delete(session->status);
    return status;
}

enum status commission_main(struct invocation *at, int argc, char *argv[])
{
    struct wishes wishes = {0};
    const struct option_row rows[] = {
        {"--yes", NULL, &wishes.yes, NULL},
        {"--new", NULL, &wishes.new_house, NULL},
        {"--restart", NULL, &wishes.restart, NULL},
        {"--again", &wishes.again, NULL, "a step"},
        {"--state", &wishes.state, NULL, "a file"},
        {"--record", &wishes.record, NULL, "a file"},
        {"--settings", &wishes.settings, NULL, "a settings file"},
        {"--maps", &wishes.maps, NULL, "the folder of the meter maps"},
        {0}};
    int count = options_read(at, rows, argc, argv);
    if (count < 0)
        return options_status(count);
    if (count != 0)
        return complain_usage(at, "commission");
    if (!wishes.yes && !(isatty(STDIN_FILENO) && isatty(STDOUT_FILENO)))
        return complain(STATUS_USAGE,
                        "nobody can be asked: no terminal. Run it in one, or with --yes, which "
                        "asks nothing and switches the loads");
    if (wishes.yes && wishes.new_house)
        return complain(STATUS_USAGE, "--new asks what only a person knows: run it without --yes");
    struct session session = {.socket = at->socket,
                              .asking = {.nobody = wishes.yes, .colour = at->colour}};
    if (wishes.new_house)
        return first_settings(&session.asking, wishes.settings ? wishes.settings : SETTINGS_DEFAULT,
                              wishes.maps);
    return commission(&session, &wishes);
}
