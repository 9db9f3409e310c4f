/* progress.h - how far commissioning has got, in a file that is written whole after each step.
 *
 * A step done under other settings than those in force counts as not done. */
#ifndef SLUICE_TOOLS_PROGRESS_H
#define SLUICE_TOOLS_PROGRESS_H

#include <cjson/cJSON.h>

#include "core/trouble.h"
#include "judge.h"
#include "sluice/subcommand.h"

struct progress {
    const char *path;
    cJSON *root;
    char settings[65]; /* the figure of the settings in force (SHA-256) */
};

/* What the bytes of a file hold; NULL: `trouble` says what is wrong with them. */
cJSON *progress_parse(const char *bytes, const char *site, struct trouble *trouble);
cJSON *progress_new(const char *site);

/* The file, or a new one in memory where there is none. Complains. */
enum status progress_open(struct progress *progress, const char *site);
void progress_close(struct progress *progress);
enum status progress_save(const struct progress *progress);

/* False: it is not done, or was under other settings. `time` may be NULL. */
bool progress_result(const struct progress *progress, const char *step, struct step_result *result,
                     const char **time);
void progress_put(struct progress *progress, const char *step, const struct step_result *result,
                  const char *time);
void progress_forget(struct progress *progress, const char *step);

/* What a test of a load showed, for each step that looks at it. */
bool progress_test(const struct progress *progress, const char *load,
                   struct load_evidence *evidence, const char **says);
void progress_put_test(struct progress *progress, const char *load,
                       const struct load_evidence *evidence, const char *says);
void progress_forget_test(struct progress *progress, const char *load); /* NULL: of each load */

/* Words about the whole: "installer". "": none are kept. */
const char *progress_word(const struct progress *progress, const char *key);
void progress_put_word(struct progress *progress, const char *key, const char *word);

/* A part of a status: "before", "after". Takes a copy; NULL: none is kept. */
const cJSON *progress_part(const struct progress *progress, const char *key);
void progress_put_part(struct progress *progress, const char *key, const cJSON *part);

#endif
