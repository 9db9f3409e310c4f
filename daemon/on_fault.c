/* on_fault.c - a command of the settings, told what is wrong.
 *
 * What was last told is kept, and what stands now is compared with it: so however fast faults
 * come and go, there is one run at a time, at most one a minute, and it tells the newest state.
 * Told is what a command was given that ended well; else it is tried again, ever more seldom.
 * The command is the settings' own words; all that comes from devices reaches it by its
 * environment and its standard input alone, never as a part of the command. */
#include "on_fault.h"

#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "loop/clock.h"
#include "loop/log.h"
#include "troubles.h"
#include "values/values.h"

#define TROUBLE_ID "on-fault"
#define NOTE_KEY "on-fault"

enum {
    EVERY_MS = MS_PER_MIN,
    LONGEST_PAUSE_MS = MS_PER_HOUR,
    LONGEST_S = 30,
    LETTER_MAX = 16 * 1024, /* a pipe holds more (pipe(7)), so that writing never waits */
    VALUE_MAX = 512,
    OWN_VALUES = 6,
};

extern char **environ;

enum change { NEW, CHANGED, OVER };

static const char *const change_words[] = {[NEW] = "new", [CHANGED] = "changed", [OVER] = "over"};
static const char *const change_titles[] = {[NEW] = "New", [CHANGED] = "Changed", [OVER] = "Over"};

/* What one run tells. */
struct letter {
    char body[LETTER_MAX];
    struct text text;
    int changes;
    const struct fault *last;
    enum change how;
};

/* ---- what changed ------------------------------------------------------------------------ */

/* Of a command that fails it cannot tell. */
static bool is_own(const struct fault *fault)
{
    return strcmp(fault->id, TROUBLE_ID) == 0;
}

/* Its place; -1: it is not there. */
static int place_of(const struct told_fault list[], int count, const char *id)
{
    for (int k = 0; k < count; k++)
        if (strcmp(list[k].fault.id, id) == 0)
            return k;
    return -1;
}

static void add_times(const struct common *common, const struct fault *fault, struct text *text)
{
    const struct finding *finding = &fault->finding;
    text_add(text, "\n  ");
    if (finding->sure_permille > 0) {
        fault_write_sure(finding, text);
        text_add(text, "; ");
    }
    text_add(text, "seen %u time%s", finding->seen, finding->seen == 1 ? "" : "s");
    if (finding->since.wall_trusted) {
        text_add(text, ", since ");
        value_write_moment(&common->settings->rules.zone, finding->since.wall, text);
    }
}

static void write_change(const struct common *common, const struct fault *fault, enum change how,
                         struct text *text)
{
    text_add(text, "%s: ", change_titles[how]);
    fault_write_line(fault, text);
    if (how != OVER) {
        add_times(common, fault, text);
        text_add(text, "\n  What to do first: ");
        fault_write_first(fault, text);
    }
    text_add(text, "\n\n");
}

/* False: it does not fit, and is left to the next letter. */
static bool add_change(struct letter *letter, const struct common *common,
                       const struct fault *fault, enum change how)
{
    struct text before = letter->text;
    write_change(common, fault, how, &letter->text);
    if (letter->text.full) {
        letter->text = before;
        letter->text.at[before.used] = '\0';
        return false;
    }
    letter->last = fault;
    letter->how = how;
    letter->changes++;
    return true;
}

static void write_over(struct on_fault *on_fault, const struct common *common,
                       struct letter *letter)
{
    on_fault->telling_count = 0;
    for (int k = 0; k < on_fault->told_count; k++) {
        const struct told_fault *told = &on_fault->told[k];
        if (site_has_trouble(common, told->fault.id) ||
            !add_change(letter, common, &told->fault, OVER))
            on_fault->telling[on_fault->telling_count++] = *told;
    }
}

/* True: it is written, or need not be. */
static bool write_standing(struct on_fault *on_fault, const struct common *common, int k,
                           struct letter *letter)
{
    const struct fault *fault = &common->trouble[k];
    struct told_fault now = {*fault, common->told[k].news};
    int place = place_of(on_fault->telling, on_fault->telling_count, fault->id);
    if (is_own(fault) || (place >= 0 && on_fault->telling[place].news == now.news))
        return true;
    if (place < 0 && on_fault->telling_count == SITE_TROUBLES_MAX)
        return false;
    if (!add_change(letter, common, fault, place >= 0 ? CHANGED : NEW))
        return false;
    on_fault->telling[place >= 0 ? place : on_fault->telling_count++] = now;
    return true;
}

static void write_changes(struct on_fault *on_fault, const struct common *common,
                          struct letter *letter)
{
    write_over(on_fault, common, letter);
    for (int k = 0; k < common->trouble_count; k++)
        if (!write_standing(on_fault, common, k, letter))
            return;
}

/* Nobody is to be told. */
static void note_all(struct on_fault *on_fault, const struct common *common)
{
    on_fault->told_count = 0;
    for (int k = 0; k < common->trouble_count; k++)
        if (!is_own(&common->trouble[k]))
            on_fault->told[on_fault->told_count++] =
                (struct told_fault){common->trouble[k], common->told[k].news};
}

/* ---- running it ---------------------------------------------------------------------------- */

struct child {
    char value[OWN_VALUES][VALUE_MAX];
    char **environment;
    const char *command;
    int input;
};

static void write_values(struct child *child, const struct common *common,
                         const struct letter *letter)
{
    char line[VALUE_MAX / 2];
    struct text text = text_in(line, sizeof(line));
    const struct fault *fault = letter->last;
    int percent = fault_sure_percent(&fault->finding);
    int standing = common->trouble_count - (int)site_has_trouble(common, TROUBLE_ID);
    fault_write_line(fault, &text);
    snprintf(child->value[0], VALUE_MAX, "SLUICE_SITE=%s", common->settings->site_name);
    snprintf(child->value[1], VALUE_MAX, "SLUICE_FAULT_ID=%s", fault->id);
    snprintf(child->value[2], VALUE_MAX, "SLUICE_FAULT_STATE=%s", change_words[letter->how]);
    snprintf(child->value[3], VALUE_MAX, "SLUICE_FAULT_TEXT=%s", line);
    snprintf(child->value[4], VALUE_MAX, "SLUICE_FAULT_SURE=%d", percent);
    snprintf(child->value[5], VALUE_MAX, "SLUICE_FAULTS=%d", standing);
}

static bool make_environment(struct child *child)
{
    size_t count = 0, own = 0;
    while (environ[count])
        count++;
    child->environment = calloc(count + OWN_VALUES + 1, sizeof(char *));
    if (!child->environment)
        return false;
    for (; own < OWN_VALUES; own++)
        child->environment[own] = child->value[own];
    memcpy(child->environment + OWN_VALUES, environ, count * sizeof(char *));
    return true;
}

/* Between fork and exec, where other threads may have held any lock: system calls alone. What the
 * daemon does to itself (signals that wait, a bound on memory) is no concern of the command's. */
static void become(const struct child *child)
{
    char *const words[] = {(char *)"sh", (char *)"-c", (char *)child->command, NULL};
    struct rlimit data;
    sigset_t none;
    sigemptyset(&none);
    setpgid(0, 0);
    if (getrlimit(RLIMIT_DATA, &data) == 0) {
        data.rlim_cur = data.rlim_max;
        setrlimit(RLIMIT_DATA, &data);
    }
    signal(SIGPIPE, SIG_DFL);
    sigprocmask(SIG_SETMASK, &none, NULL);
    dup2(child->input, STDIN_FILENO);
    dup2(STDERR_FILENO, STDOUT_FILENO);
    close_range(STDERR_FILENO + 1, ~0U, 0);
    execve("/bin/sh", words, child->environment);
    _exit(127);
}

/* A pipe with all of the text in it; -1: there is none. */
static int filled_pipe(const struct letter *letter)
{
    int ends[2];
    if (pipe2(ends, O_CLOEXEC | O_NONBLOCK) < 0)
        return -1;
    bool whole = write(ends[1], letter->body, letter->text.used) == (ssize_t)letter->text.used;
    close(ends[1]);
    if (whole && fcntl(ends[0], F_SETFL, 0) == 0)
        return ends[0];
    close(ends[0]);
    return -1;
}

static void fail(struct on_fault *on_fault, struct common *common, const char *what)
{
    site_trouble(common, TROUBLE_ID, "on_fault: the command %s", what);
    if (on_fault->pause_ms < EVERY_MS)
        on_fault->pause_ms = EVERY_MS;
    on_fault->due = mono_after(common->now.mono, on_fault->pause_ms);
    on_fault->pause_ms *= 2;
    if (on_fault->pause_ms > LONGEST_PAUSE_MS)
        on_fault->pause_ms = LONGEST_PAUSE_MS;
}

static void run(struct on_fault *on_fault, struct common *common, const struct letter *letter)
{
    struct child child = {.command = common->settings->on_fault, .input = filled_pipe(letter)};
    write_values(&child, common, letter);
    pid_t pid = child.input >= 0 && make_environment(&child) ? fork() : -1;
    if (pid == 0)
        become(&child);
    if (pid > 0) {
        setpgid(pid, pid); /* both do: whichever comes first, it is so before either goes on */
        on_fault->state = ON_FAULT_RUNS;
        on_fault->pid = pid;
    } else {
        fail(on_fault, common, "cannot be run: no memory, or too many processes");
    }
    on_fault->begun_us = clock_monotonic_us();
    free(child.environment);
    if (child.input >= 0)
        close(child.input);
}

static void ended_well(struct on_fault *on_fault, struct common *common)
{
    memcpy(on_fault->told, on_fault->telling, sizeof(on_fault->told));
    on_fault->told_count = on_fault->telling_count;
    on_fault->pause_ms = EVERY_MS;
    log_line(LOG_LEVEL_INFO, "on_fault: told");
    site_solved(common, TROUBLE_ID);
}

/* True: it has been told. */
static bool judge(struct on_fault *on_fault, struct common *common, const siginfo_t *end)
{
    char what[80];
    int status = end->si_status;
    if (end->si_code == CLD_EXITED && status == 0) {
        ended_well(on_fault, common);
        return true;
    }
    if (end->si_code == CLD_EXITED)
        snprintf(what, sizeof(what), "ended with status %d%s", status,
                 status == 127   ? " (not found?)"
                 : status == 126 ? " (may not be run)"
                                 : "");
    else
        snprintf(what, sizeof(what), "was ended by signal %d", status);
    fail(on_fault, common, what);
    return false;
}

/* All that it started. Its id is its own until it is reaped. */
static void end_all(struct on_fault *on_fault)
{
    kill(-on_fault->pid, SIGKILL);
    kill(on_fault->pid, SIGKILL);
    on_fault->state = ON_FAULT_KILLED;
}

static void reap(struct on_fault *on_fault)
{
    if (waitpid(on_fault->pid, NULL, WNOHANG) == 0)
        return;
    on_fault->pid = 0;
    on_fault->state = ON_FAULT_IDLE;
}

static bool look_whether_it_ended(struct on_fault *on_fault, struct common *common)
{
    siginfo_t end = {0};
    if (waitid(P_PID, (id_t)on_fault->pid, &end, WEXITED | WNOHANG | WNOWAIT) < 0 ||
        end.si_pid != on_fault->pid)
        return false;
    on_fault->state = ON_FAULT_ENDED;
    return judge(on_fault, common, &end);
}

static bool look_after(struct on_fault *on_fault, struct common *common)
{
    bool late = clock_monotonic_us() - on_fault->begun_us >= LONGEST_S * INT64_C(1000000);
    bool told = on_fault->state == ON_FAULT_RUNS && look_whether_it_ended(on_fault, common);
    if (on_fault->state == ON_FAULT_RUNS && late)
        fail(on_fault, common, "took longer than 30 s and was ended");
    if ((on_fault->state == ON_FAULT_RUNS || on_fault->state == ON_FAULT_ENDED) && late)
        end_all(on_fault);
    if (on_fault->state == ON_FAULT_KILLED)
        reap(on_fault);
    return told;
}

/* True: the next may begin. */
static bool make_way(struct on_fault *on_fault)
{
    if (on_fault->state == ON_FAULT_ENDED) {
        end_all(on_fault);
        reap(on_fault);
    }
    return on_fault->state == ON_FAULT_IDLE;
}

/* ---- over restarts ------------------------------------------------------------------------- */

/* One id a line; what does not fit is told once more. */
void on_fault_save(const struct on_fault *on_fault, struct common *common)
{
    char note[LEDGER_TEXT_MAX];
    struct text text = text_in(note, sizeof(note));
    text_add(&text, "\n");
    for (int k = 0; k < on_fault->told_count; k++)
        text_add(&text, "%s\n", on_fault->told[k].fault.id);
    ledger_note(common->ledger, NOTE_KEY, note);
}

void on_fault_begin(struct on_fault *on_fault, struct common *common)
{
    char note[LEDGER_TEXT_MAX], line[FAULT_ID_MAX + 2];
    if (!ledger_note_read(common->ledger, NOTE_KEY, note))
        return;
    for (int k = 0; k < common->trouble_count; k++) {
        snprintf(line, sizeof(line), "\n%s\n", common->trouble[k].id);
        if (strstr(note, line))
            on_fault->told[on_fault->told_count++] =
                (struct told_fault){common->trouble[k], common->told[k].news};
    }
}

/* ---- a turn -------------------------------------------------------------------------------- */

static void tell_next(struct on_fault *on_fault, struct common *common)
{
    struct letter letter;
    letter.text = text_in(letter.body, sizeof(letter.body));
    letter.changes = 0;
    write_changes(on_fault, common, &letter);
    if (letter.changes == 0 || !make_way(on_fault))
        return;
    on_fault->due = mono_after(common->now.mono, EVERY_MS);
    run(on_fault, common, &letter);
}

bool on_fault_turn(struct on_fault *on_fault, struct common *common)
{
    bool told = look_after(on_fault, common);
    if (on_fault->state == ON_FAULT_RUNS || common->now.mono.ms < on_fault->due.ms)
        return told;
    if (common->settings->on_fault[0]) {
        tell_next(on_fault, common);
        return told;
    }
    note_all(on_fault, common);
    site_solved(common, TROUBLE_ID);
    return told;
}

void on_fault_end(struct on_fault *on_fault)
{
    if (on_fault->state == ON_FAULT_IDLE)
        return;
    end_all(on_fault);
    reap(on_fault);
}
