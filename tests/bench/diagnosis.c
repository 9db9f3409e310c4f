/* diagnosis.c - how far what is found can be trusted: houses of all kinds, each with one fault or
 * none, lived through by the real engine and the real findings; judged by what was true.
 *
 * usage: diagnosis [--days N] [--threads N]     figures and matrix, of both sets of seeds
 *        diagnosis --list [--days N]            the houses that were misjudged, one a line
 *        diagnosis --seed S [--from DAY]        one house, with all that it showed
 *
 * The set `tuned` may be looked at while the findings are worked on; `held-out` may not. */
#include <getopt.h>
#include <inttypes.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "diagnosis_run.h"

enum {
    DAYS = 20000,
    THREADS = 2,
    DAY_S = 86400,
    SLOW_DAYS = 60,
    LATE_DAYS = 14,
};

static const struct seeds {
    const char *name;
    uint64_t first;
    int share; /* of the house-days, per cent */
} sets[] = {{"tuned", 1, 40}, {"held-out", 1000001, 60}};

enum { SETS = sizeof(sets) / sizeof(sets[0]) };

/* MORE: rightly named, and beside it something that is not so. */
enum verdict { VERDICT_RIGHT, VERDICT_MORE, VERDICT_LATE, VERDICT_UNSURE, VERDICT_WRONG, VERDICTS };

struct tally {
    int64_t houses, days, sound_s;
    int64_t verdict[CASE_VIEWS][CASE_FAULTS][VERDICTS];
    int64_t matrix[CASE_FAULTS][FINDING_COUNT + 1]; /* the last column: nothing */
    int64_t false_alarms[FINDING_COUNT];
    int64_t at_risk, at_risk_missed, missed;
    int64_t met, met_without_heat, openings, satisfied, satisfied_wrong, switchings;
    double dead_days[4096];
    int dead_count;
};

struct work {
    const struct seeds *seeds;
    int64_t days;
    bool list;
    atomic_uint_fast64_t next;
    atomic_int_fast64_t days_begun;
    pthread_mutex_t lock;
    struct tally *tally;
};

/* ---- a house judged --------------------------------------------------------------------- */

static bool is_false_alarm(const struct diagnosis_run *run, const struct run_told *told)
{
    bool before = run->onset_s < 0 || told->at_s < run->onset_s;
    return before && !told->follows;
}

static bool is_slow(enum case_fault fault)
{
    return fault >= CASE_FIRST_SLOW;
}

static bool in_time(const struct diagnosis_case *given, const struct diagnosis_run *run,
                    const struct run_told *told)
{
    if (is_slow(given->fault))
        return told->at_s - run->onset_s <= SLOW_DAYS * (int64_t)DAY_S;
    return told->heated_days <= RUN_IN_TIME_DAYS;
}

static enum verdict verdict_of(const struct diagnosis_case *given, const struct diagnosis_run *run,
                               int *first_kind)
{
    bool right = false, late = false, wrong = false;
    *first_kind = FINDING_COUNT;
    for (uint16_t k = 0; k < run->told_count; k++) {
        const struct run_told *told = &run->told[k];
        if (told->at_s < run->onset_s || (told->follows && !told->right))
            continue;
        bool timely = in_time(given, run, told);
        right |= told->right && timely;
        late |= told->right && !timely;
        wrong |= !told->right && timely;
        if (*first_kind == FINDING_COUNT && (timely || told->right))
            *first_kind = told->finding.kind;
    }
    return wrong && right ? VERDICT_MORE
           : wrong        ? VERDICT_WRONG
           : right        ? VERDICT_RIGHT
           : late         ? VERDICT_LATE
                          : VERDICT_UNSURE;
}

/* A load that was not ordered on for so long had no chance to show it. */
static bool counts(const struct diagnosis_case *given, const struct diagnosis_run *run,
                   enum verdict verdict)
{
    bool had_time = is_slow(given->fault) || run->heated_days >= RUN_IN_TIME_DAYS;
    return run->onset_s >= 0 && (had_time || verdict != VERDICT_UNSURE);
}

static double found_after_days(const struct diagnosis_run *run)
{
    for (uint16_t k = 0; k < run->told_count; k++)
        if (run->told[k].right)
            return (double)(run->told[k].at_s - run->onset_s) / DAY_S;
    return LATE_DAYS * 1000; /* not at all */
}

static void list_house(const struct diagnosis_case *given, const struct diagnosis_run *run,
                       enum verdict verdict)
{
    static const char *const words[VERDICTS] = {"right", "more", "late", "unsure", "WRONG"};
    bool noted = counts(given, run, verdict) && verdict != VERDICT_RIGHT;
    for (uint16_t k = 0; k < run->told_count; k++)
        noted |= is_false_alarm(run, &run->told[k]);
    noted |= run->met_without_heat > 0 || run->satisfied_wrong > 0;
    if (!noted)
        return;
    printf("seed %" PRIu64 " %s, %s, onset day %.1f: %s; poll %d s, %d W, %d phases, solar meter "
           "%d, loads %d, water %d, voltage %d:",
           given->seed, case_fault_name(given->fault), given->fault_load ? "of pump" : "of heater",
           (double)run->onset_s / DAY_S, run->onset_s >= 0 ? words[verdict] : "-", given->poll_s,
           given->resolution_w, given->rules.phase_count, given->rules.solar,
           given->rules.load_count, given->loads[0].water.volume_ml > 0, given->tells_voltage);
    for (uint16_t k = 0; k < run->told_count; k++) {
        const struct run_told *told = &run->told[k];
        printf(" %s/%u@%.1f%s", finding_id(told->finding.kind), told->finding.index,
               (double)told->at_s / DAY_S,
               is_false_alarm(run, told) ? "!"
               : told->right             ? "+"
               : told->follows           ? "~"
                                         : "-");
    }
    printf(" | met without heat %" PRId64 ", wrongly satisfied %" PRId64 "\n",
           run->met_without_heat, run->satisfied_wrong);
}

static void judge(struct work *work, const struct diagnosis_case *given,
                  const struct diagnosis_run *run)
{
    struct tally *tally = work->tally;
    int first_kind;
    enum verdict verdict = verdict_of(given, run, &first_kind);
    tally->houses++;
    tally->days += run->seconds / DAY_S;
    tally->sound_s += run->sound_seconds;
    tally->met += run->met;
    tally->met_without_heat += run->met_without_heat;
    tally->openings += run->openings;
    tally->satisfied += run->satisfied;
    tally->satisfied_wrong += run->satisfied_wrong;
    tally->switchings += run->switchings;
    tally->at_risk += run->at_risk;
    tally->at_risk_missed += run->at_risk_missed;
    tally->missed += run->missed;
    if (counts(given, run, verdict)) {
        tally->verdict[given->view][given->fault][verdict]++;
        tally->matrix[given->fault][first_kind]++;
    }
    for (uint16_t k = 0; k < run->told_count; k++)
        tally->false_alarms[run->told[k].finding.kind] += is_false_alarm(run, &run->told[k]);
    if (run->onset_s >= 0 && given->fault == CASE_ELEMENT_OPEN && tally->dead_count < 4096)
        tally->dead_days[tally->dead_count++] = found_after_days(run);
    if (work->list)
        list_house(given, run, verdict);
}

static void *worker(void *context)
{
    struct work *work = context;
    struct diagnosis_case *given = malloc(sizeof(*given));
    struct diagnosis_run *run = malloc(sizeof(*run));
    while (given && run && work->days_begun < work->days) {
        diagnosis_case_make(given, work->seeds->first + work->next++);
        work->days_begun += given->days;
        diagnosis_run(given, run, NULL, 0);
        pthread_mutex_lock(&work->lock);
        judge(work, given, run);
        pthread_mutex_unlock(&work->lock);
    }
    free(given);
    free(run);
    return NULL;
}

static void live_through(const struct seeds *seeds, int64_t days, int threads, bool list,
                         struct tally *tally)
{
    struct work work = {.seeds = seeds,
                        .days = days * seeds->share / 100,
                        .list = list,
                        .lock = PTHREAD_MUTEX_INITIALIZER,
                        .tally = tally};
    pthread_t thread[16];
    for (int k = 0; k < threads; k++)
        if (pthread_create(&thread[k], NULL, worker, &work) != 0)
            exit(EXIT_FAILURE);
    for (int k = 0; k < threads; k++)
        pthread_join(thread[k], NULL);
}

/* ---- figures -------------------------------------------------------------------------------- */

static int64_t sum_of(const struct tally *tally, enum case_view view, enum verdict verdict,
                      bool slow)
{
    int64_t sum = 0;
    for (int fault = 1; fault < CASE_FAULTS; fault++)
        if (is_slow((enum case_fault)fault) == slow)
            for (int v = 0; v < CASE_VIEWS; v++)
                if (v == (int)view || view == CASE_VIEWS)
                    sum += tally->verdict[v][fault][verdict];
    return sum;
}

static int64_t all_of(const struct tally *tally, enum case_view view, bool slow)
{
    int64_t sum = 0;
    for (int verdict = 0; verdict < VERDICTS; verdict++)
        sum += sum_of(tally, view, (enum verdict)verdict, slow);
    return sum;
}

static void share(const struct seeds *seeds, const char *name, int64_t part, int64_t whole,
                  const char *note)
{
    printf("figure %s %.1f %% (%s seeds; %" PRId64 " of %" PRId64 "; %s)\n", name,
           whole > 0 ? 100.0 * (double)part / (double)whole : 0, seeds->name, part, whole, note);
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void print_figures(const struct seeds *seeds, struct tally *tally)
{
    int64_t alarms = 0;
    double years = (double)tally->sound_s / DAY_S / 365.25;
    share(seeds, "diagnosis_right", sum_of(tally, VIEW_FINE, VERDICT_RIGHT, false),
          all_of(tally, VIEW_FINE, false),
          "named within three heating days, polled each second, 10 W");
    share(seeds, "diagnosis_right_coarse", sum_of(tally, VIEW_COARSE, VERDICT_RIGHT, false),
          all_of(tally, VIEW_COARSE, false), "polled each 5 s, 100 W");
    share(seeds, "diagnosis_right_all", sum_of(tally, CASE_VIEWS, VERDICT_RIGHT, false),
          all_of(tally, CASE_VIEWS, false), "1 to 10 s, 1 to 100 W");
    share(seeds, "diagnosis_right_slow", sum_of(tally, CASE_VIEWS, VERDICT_RIGHT, true),
          all_of(tally, CASE_VIEWS, true), "leaks and drifts, within 60 days");
    share(seeds, "diagnosis_right_and_more", sum_of(tally, CASE_VIEWS, VERDICT_MORE, false),
          all_of(tally, CASE_VIEWS, false), "named, and something that is not so beside it");
    share(seeds, "diagnosis_wrong", sum_of(tally, CASE_VIEWS, VERDICT_WRONG, false),
          all_of(tally, CASE_VIEWS, false), "only something that is not so was told in that time");
    share(seeds, "diagnosis_unsure",
          sum_of(tally, CASE_VIEWS, VERDICT_UNSURE, false) +
              sum_of(tally, CASE_VIEWS, VERDICT_LATE, false),
          all_of(tally, CASE_VIEWS, false), "nothing told in that time");
    for (int kind = 0; kind < FINDING_COUNT; kind++)
        alarms += tally->false_alarms[kind];
    printf("figure false_alarms_per_house_year %.2f (%s seeds; %" PRId64
           " in %.1f sound house-years)\n",
           years > 0 ? (double)alarms / years : 0, seeds->name, alarms, years);
    for (int kind = 0; kind < FINDING_COUNT; kind++)
        if (tally->false_alarms[kind] > 0)
            printf("    %s %" PRId64 "\n", finding_id((enum finding_kind)kind),
                   tally->false_alarms[kind]);
    share(seeds, "met_without_heat", tally->met_without_heat, tally->met,
          "guarantees told as met, and by the house's truth no heat went in");
    share(seeds, "at_risk_right", tally->at_risk_missed, tally->at_risk,
          "guarantees told to be at risk that were then missed");
    share(seeds, "missed_warned", tally->at_risk_missed, tally->missed,
          "missed guarantees that had been told to be at risk");
    printf("figure told_satisfied_wrong %.1f per-10,000-openings (%s seeds; %" PRId64 " of %" PRId64
           " told, %" PRId64 " openings)\n",
           tally->openings > 0 ? 1e4 * (double)tally->satisfied_wrong / (double)tally->openings : 0,
           seeds->name, tally->satisfied_wrong, tally->satisfied, tally->openings);
    qsort(tally->dead_days, (size_t)tally->dead_count, sizeof(double), by_size);
    if (tally->dead_count > 0)
        printf("figure days_to_find_dead_element %.2f days (%s seeds; median of %d, calendar days "
               "from its failing on)\n",
               tally->dead_days[tally->dead_count / 2], seeds->name, tally->dead_count);
}

static bool is_told(const struct tally *tally, int kind)
{
    for (int fault = 0; fault < CASE_FAULTS; fault++)
        if (tally->matrix[fault][kind] > 0)
            return true;
    return false;
}

static void print_matrix(const struct seeds *seeds, const struct tally *tally)
{
    printf("\nWhat failed, and what was told first (%s seeds, %" PRId64 " houses, %" PRId64
           " house-days, %" PRId64
           " switchings); then right, right and more, late, unsure, wrong:\n",
           seeds->name, tally->houses, tally->days, tally->switchings);
    for (int fault = 1; fault < CASE_FAULTS; fault++) {
        printf("  %-26s", case_fault_name((enum case_fault)fault));
        int64_t verdicts[VERDICTS] = {0};
        for (int view = 0; view < CASE_VIEWS; view++)
            for (int verdict = 0; verdict < VERDICTS; verdict++)
                verdicts[verdict] += tally->verdict[view][fault][verdict];
        for (int verdict = 0; verdict < VERDICTS; verdict++)
            printf("%3" PRId64 " ", verdicts[verdict]);
        printf(" ");
        for (int kind = 0; kind <= FINDING_COUNT; kind++)
            if (is_told(tally, kind) && tally->matrix[fault][kind] > 0)
                printf(" %s %" PRId64,
                       kind == FINDING_COUNT ? "nothing" : finding_id((enum finding_kind)kind),
                       tally->matrix[fault][kind]);
        printf("\n");
    }
    printf("\n");
}

/* ---- one house ------------------------------------------------------------------------------ */

static void show_house(uint64_t seed, double from_day)
{
    struct diagnosis_case *given = malloc(sizeof(*given));
    struct diagnosis_run *run = malloc(sizeof(*run));
    if (!given || !run)
        exit(EXIT_FAILURE);
    diagnosis_case_make(given, seed);
    diagnosis_run(given, run, stdout, (int64_t)(from_day * DAY_S));
    int first_kind;
    list_house(given, run, verdict_of(given, run, &first_kind));
    free(given);
    free(run);
}

int main(int argc, char **argv)
{
    static const struct option options[] = {
        {"days", required_argument, NULL, 'd'}, {"threads", required_argument, NULL, 't'},
        {"seed", required_argument, NULL, 's'}, {"from", required_argument, NULL, 'f'},
        {"list", no_argument, NULL, 'l'},       {NULL, 0, NULL, 0}};
    int64_t days = DAYS;
    int threads = THREADS, option;
    uint64_t seed = 0;
    double from_day = 0;
    bool list = false;
    while ((option = getopt_long(argc, argv, "", options, NULL)) != -1) {
        switch (option) {
        case 'd':
            days = atoll(optarg);
            break;
        case 't':
            threads = atoi(optarg);
            break;
        case 's':
            seed = strtoull(optarg, NULL, 10);
            break;
        case 'f':
            from_day = atof(optarg);
            break;
        case 'l':
            list = true;
            break;
        default:
            return EXIT_FAILURE;
        }
    }
    setvbuf(stdout, NULL, _IOLBF, 0);
    if (nice(10) == -1)
        return EXIT_FAILURE;
    if (seed > 0) {
        show_house(seed, from_day);
        return EXIT_SUCCESS;
    }
    for (int k = 0; k < SETS; k++) {
        if (list && strcmp(sets[k].name, "held-out") == 0)
            continue;
        static struct tally tally;
        memset(&tally, 0, sizeof(tally));
        live_through(&sets[k], days, threads < 1 ? 1 : threads > 16 ? 16 : threads, list, &tally);
        print_figures(&sets[k], &tally);
        print_matrix(&sets[k], &tally);
    }
    return EXIT_SUCCESS;
}
