/* walk.c - which steps there are follows from the settings alone. */
#include "walk.h"

#include <stdio.h>

static void add(struct walk_step walk[], int *count, const struct step *step, int index,
                const char *of)
{
    struct walk_step *at = &walk[(*count)++];
    at->step = step;
    at->index = index;
    snprintf(at->id, sizeof(at->id), "%s%s%s", step->id, *of ? ":" : "", of);
    snprintf(at->title, sizeof(at->title), "%s%s%s", step->title, *of ? " " : "", of);
}

int walk_of(const struct settings *settings, struct walk_step walk[static WALK_MAX])
{
    static const char *const phases[] = {"L1", "L2", "L3"};
    int count = 0;
    for (const struct step *step = steps; step->id; step++) {
        if (step->each == STEP_ONCE)
            add(walk, &count, step, 0, "");
        for (int p = 0; step->each == STEP_EACH_PHASE && p < settings->rules.phase_count; p++)
            add(walk, &count, step, p, phases[p]);
        for (int k = 0; step->each == STEP_EACH_LOAD && k < settings->rules.load_count; k++)
            add(walk, &count, step, settings->rules.order[k],
                settings->names[settings->rules.order[k]].name);
    }
    return count;
}

struct walk_tally walk_count(const struct session *session, const struct walk_step walk[],
                             int count)
{
    struct walk_tally tally = {0};
    for (int k = 0; k < count; k++) {
        struct step_result result;
        progress_result(&session->progress, walk[k].id, &result, NULL);
        tally.of[result.outcome]++;
    }
    return tally;
}

void walk_tally_write(const struct walk_tally *tally, struct text *text)
{
    static const enum step_outcome order[] = {STEP_PASS,         STEP_FAIL,    STEP_SKIPPED,
                                              STEP_NEEDS_PERSON, STEP_NOT_NOW, STEP_OPEN};
    for (int k = 0; k < STEP_OUTCOMES; k++)
        if (tally->of[order[k]] > 0)
            text_add(text, "%s%d %s", text->used > 0 ? ", " : "", tally->of[order[k]],
                     step_outcome_words(order[k]));
}
