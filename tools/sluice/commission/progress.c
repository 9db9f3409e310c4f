/* progress.c - JSON, so that what somebody else's file is can be told from ours. */
#include "progress.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "sluice/live/say.h"
#include "sluice/whole_file.h"

#define FORMAT "sluice commission"
enum { VERSION = 1, FILE_MAX = 1024 * 1024 };

/* ---- the file -------------------------------------------------------------------------- */

cJSON *progress_new(const char *site)
{
    cJSON *root = cJSON_CreateObject();
    cJSON_AddStringToObject(root, "format", FORMAT);
    cJSON_AddNumberToObject(root, "version", VERSION);
    cJSON_AddStringToObject(root, "site", site);
    cJSON_AddObjectToObject(root, "results");
    cJSON_AddObjectToObject(root, "tests");
    return root;
}

static bool is_sound(const cJSON *root, const char *site, struct trouble *trouble)
{
    int64_t version = 0;
    if (!root)
        return trouble_set(trouble, "", "it is cut off, or not JSON");
    if (!is(root, "format", FORMAT))
        return trouble_set(trouble, "", "it is not of \"sluice commission\"");
    if (!number(root, "version", &version) || version != VERSION)
        return trouble_set(trouble, "", "it is of another version of sluice");
    if (!cJSON_IsObject(get(root, "results")) || !cJSON_IsObject(get(root, "tests")))
        return trouble_set(trouble, "", "it has no results or no tests");
    if (!is(root, "site", site))
        return trouble_set(trouble, "", "it is of another house, \"%.60s\"", words(root, "site"));
    return true;
}

cJSON *progress_parse(const char *bytes, const char *site, struct trouble *trouble)
{
    cJSON *root = cJSON_ParseWithOpts(bytes, NULL, true);
    if (is_sound(root, site, trouble))
        return root;
    cJSON_Delete(root);
    return NULL;
}

/* NULL: errno says why. */
static char *read_whole(const char *path)
{
    FILE *file = fopen(path, "re");
    char *bytes = file ? malloc(FILE_MAX + 1) : NULL;
    size_t size = bytes ? fread(bytes, 1, FILE_MAX, file) : 0;
    bool bad = !bytes || ferror(file);
    int error = errno;
    if (file)
        fclose(file);
    errno = error;
    if (bad) {
        free(bytes);
        return NULL;
    }
    bytes[size] = '\0';
    return bytes;
}

enum status progress_open(struct progress *progress, const char *site)
{
    struct trouble trouble;
    char *bytes = read_whole(progress->path);
    if (!bytes && errno != ENOENT)
        return complain(STATUS_NOT_THERE, "\"%s\" cannot be read: %m", progress->path);
    progress->root = bytes ? progress_parse(bytes, site, &trouble) : progress_new(site);
    free(bytes);
    if (progress->root)
        return whole_file_may(progress->path);
    return complain(STATUS_REFUSED,
                    "\"%s\": %s; nothing was changed. --restart begins anew in its place, "
                    "--state FILE in another",
                    progress->path, trouble.text);
}

void progress_close(struct progress *progress)
{
    cJSON_Delete(progress->root);
    progress->root = NULL;
}

static void write_root(const void *context, FILE *to)
{
    const struct progress *progress = context;
    char *bytes = cJSON_Print(progress->root);
    if (bytes)
        fprintf(to, "%s\n", bytes);
    free(bytes);
}

enum status progress_save(const struct progress *progress)
{
    return whole_file(progress->path, write_root, progress);
}

/* ---- what is in it --------------------------------------------------------------------- */

static void put(cJSON *object, const char *key, cJSON *value)
{
    cJSON_DeleteItemFromObjectCaseSensitive(object, key);
    cJSON_AddItemToObject(object, key, value);
}

static cJSON *part(const struct progress *progress, const char *key)
{
    return cJSON_GetObjectItemCaseSensitive(progress->root, key);
}

static bool is_current(const struct progress *progress, const cJSON *entry)
{
    return cJSON_IsObject(entry) && is(entry, "settings", progress->settings);
}

bool progress_result(const struct progress *progress, const char *step, struct step_result *result,
                     const char **time)
{
    const cJSON *entry = get(part(progress, "results"), step);
    *result = (struct step_result){.outcome = STEP_OPEN};
    if (!is_current(progress, entry))
        return false;
    step_end(result, step_outcome_named(words(entry, "outcome")), "%s", words(entry, "evidence"));
    step_caution(result, "%s", words(entry, "caution"));
    if (time)
        *time = words(entry, "time");
    return result->outcome != STEP_OPEN;
}

void progress_put(struct progress *progress, const char *step, const struct step_result *result,
                  const char *time)
{
    cJSON *entry = cJSON_CreateObject();
    cJSON_AddStringToObject(entry, "outcome", step_outcome_name(result->outcome));
    cJSON_AddStringToObject(entry, "evidence", result->evidence);
    cJSON_AddStringToObject(entry, "caution", result->caution);
    cJSON_AddStringToObject(entry, "time", time);
    cJSON_AddStringToObject(entry, "settings", progress->settings);
    put(part(progress, "results"), step, entry);
}

void progress_forget(struct progress *progress, const char *step)
{
    cJSON_DeleteItemFromObjectCaseSensitive(part(progress, "results"), step);
}

static enum test_outcome outcome_named(const char *name)
{
    for (int k = 0; k < TEST_OUTCOMES; k++)
        if (strcmp(test_outcome_name((enum test_outcome)k), name) == 0)
            return (enum test_outcome)k;
    return TEST_UNCLEAR;
}

bool progress_test(const struct progress *progress, const char *load,
                   struct load_evidence *evidence, const char **says)
{
    const cJSON *entry = get(part(progress, "tests"), load), *its;
    int64_t phases = 0;
    int phase = 0;
    *evidence = (struct load_evidence){.outcome = TEST_UNCLEAR};
    if (!is_current(progress, entry))
        return false;
    evidence->outcome = outcome_named(words(entry, "outcome"));
    number(entry, "power_w", &evidence->power_w);
    number(entry, "phases", &phases);
    evidence->phases = (uint8_t)(phases & 7);
    evidence->seen = yes(entry, "seen");
    evidence->has_phases = cJSON_IsArray(get(entry, "phase_w"));
    cJSON_ArrayForEach(its, get(entry, "phase_w")) if (phase < TEST_PHASES)
        evidence->phase_w[phase++] = its->valueint;
    *says = words(entry, "says");
    return true;
}

void progress_put_test(struct progress *progress, const char *load,
                       const struct load_evidence *evidence, const char *says)
{
    cJSON *entry = cJSON_CreateObject();
    cJSON_AddStringToObject(entry, "outcome", test_outcome_name(evidence->outcome));
    cJSON_AddNumberToObject(entry, "power_w", (double)evidence->power_w);
    cJSON_AddNumberToObject(entry, "phases", evidence->phases);
    cJSON_AddBoolToObject(entry, "seen", evidence->seen);
    cJSON *list = evidence->has_phases ? cJSON_AddArrayToObject(entry, "phase_w") : NULL;
    for (int p = 0; list && p < TEST_PHASES; p++)
        cJSON_AddItemToArray(list, cJSON_CreateNumber((double)evidence->phase_w[p]));
    cJSON_AddStringToObject(entry, "says", says);
    cJSON_AddStringToObject(entry, "settings", progress->settings);
    put(part(progress, "tests"), load, entry);
}

void progress_forget_test(struct progress *progress, const char *load)
{
    if (load)
        cJSON_DeleteItemFromObjectCaseSensitive(part(progress, "tests"), load);
    else
        put(progress->root, "tests", cJSON_CreateObject());
}

const char *progress_word(const struct progress *progress, const char *key)
{
    return words(progress->root, key);
}

void progress_put_word(struct progress *progress, const char *key, const char *word)
{
    put(progress->root, key, cJSON_CreateString(word));
}

const cJSON *progress_part(const struct progress *progress, const char *key)
{
    return get(progress->root, key);
}

void progress_put_part(struct progress *progress, const char *key, const cJSON *of)
{
    put(progress->root, key, cJSON_Duplicate(of, true));
}
