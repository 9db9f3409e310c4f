/* on_fault.c - a command of the settings, told what is wrong.
 *
 * What was last told is kept, and what stands now is compared with it: so however fast faults
 * come and go, there is one run at a time, at most one a minute, and it tells the newest state.
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

enum {
    EVERY_MS = MS_PER_MIN,
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

static const struct told_fault *told_of(const struct on_fault *on_fault, const char *id)
{
    for (int k = 0; k < on_fault->told_count; k++)
        if (strcmp(on_fault->told[k].fault.id, id) == 0)
            return &on_fault->told[k];
    return NULL;
}

static bool stands(const struct common *common, const char *id)
{
    for (int k = 0; k < common->trouble_count; k++)
        if (strcmp(common->trouble[k].id, id) == 0)
            return true;
    return false;
}

static void add_times(const struct common *common, const struct fault *fault, struct text *text)
{
    const struct finding *finding = &fault->finding;
    text_add(text, "\n  ");
    if (finding->kind != FINDING_NONE) {
        fault_write_sure(finding, text);
        text_add(text, "; ");
    }
    text_add(text, "seen %u time%s", finding->seen, finding->seen == 1 ? "" : "s");
    if (finding->since.wall_trusted) {
        text_add(text, ", since ");
        value_write_moment(&common->settings->rules.zone, finding->since.wall, text);
    }
}

static void add_change(struct letter *letter, const struct common *common,
                       const struct fault *fault, enum change how)
{
    struct text *text = &letter->text;
    text_add(text, "%s: ", change_titles[how]);
    fault_write_line(fault, text);
    if (how != OVER) {
        add_times(common, fault, text);
        text_add(text, "\n  What to do first: ");
        fault_write_first(fault, text);
    }
    text_add(text, "\n\n");
    letter->last = fault;
    letter->how = how;
    letter->changes++;
}

static void write_changes(const struct on_fault *on_fault, const struct common *common,
                          struct letter *letter)
{
    for (int k = 0; k < on_fault->told_count; k++)
        if (!stands(common, on_fault->told[k].fault.id))
            add_change(letter, common, &on_fault->told[k].fault, OVER);
    for (int k = 0; k < common->trouble_count; k++) {
        const struct fault *fault = &common->trouble[k];
        const struct told_fault *told = told_of(on_fault, fault->id);
        if (is_own(fault) || (told && told->news == common->told[k].news))
            continue;
        add_change(letter, common, fault, told ? CHANGED : NEW);
    }
}

static void note_told(struct on_fault *on_fault, const struct common *common)
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
    int percent = fault->finding.kind == FINDING_NONE ? 100 : fault->finding.sure_permille / 10;
    int standing = common->trouble_count - (int)stands(common, TROUBLE_ID);
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

static void fail(struct common *common, const char *what)
{
    site_trouble(common, TROUBLE_ID, "on_fault: the command %s", what);
}

static void run(struct on_fault *on_fault, struct common *common, const struct letter *letter)
{
    struct child child = {.command = common->settings->on_fault, .input = filled_pipe(letter)};
    write_values(&child, common, letter);
    pid_t pid = child.input >= 0 && make_environment(&child) ? fork() : -1;
    if (pid == 0)
        become(&child);
    if (pid < 0)
        fail(common, "cannot be run: no memory, or too many processes");
    else
        log_line(LOG_LEVEL_INFO, "on_fault: %d change%s told", letter->changes,
                 letter->changes == 1 ? "" : "s");
    on_fault->pid = pid > 0 ? pid : 0;
    on_fault->begun_us = clock_monotonic_us();
    free(child.environment);
    if (child.input >= 0)
        close(child.input);
}

static void judge(struct common *common, int status)
{
    char what[80];
    if (WIFEXITED(status) && WEXITSTATUS(status) == 0) {
        site_solved(common, TROUBLE_ID);
        return;
    }
    if (WIFEXITED(status))
        snprintf(what, sizeof(what), "ended with status %d%s", WEXITSTATUS(status),
                 WEXITSTATUS(status) == 127   ? " (not found?)"
                 : WEXITSTATUS(status) == 126 ? " (may not be run)"
                                              : "");
    else
        snprintf(what, sizeof(what), "was ended by signal %d", WTERMSIG(status));
    fail(common, what);
}

/* True: none runs any more. */
static bool look_after(struct on_fault *on_fault, struct common *common)
{
    int status;
    if (on_fault->pid == 0)
        return true;
    pid_t pid = waitpid(on_fault->pid, &status, WNOHANG);
    if (pid == on_fault->pid) {
        judge(common, status);
        on_fault->pid = 0;
        return true;
    }
    if (clock_monotonic_us() - on_fault->begun_us < LONGEST_S * INT64_C(1000000))
        return false;
    kill(-on_fault->pid, SIGKILL);
    waitpid(on_fault->pid, &status, 0);
    on_fault->pid = 0;
    fail(common, "took longer than 30 s and was ended");
    return true;
}

void on_fault_begin(struct on_fault *on_fault, const struct common *common)
{
    note_told(on_fault, common);
}

void on_fault_turn(struct on_fault *on_fault, struct common *common)
{
    struct letter letter;
    if (!look_after(on_fault, common) || common->now.mono.ms < on_fault->due.ms)
        return;
    if (!common->settings->on_fault[0]) {
        note_told(on_fault, common);
        site_solved(common, TROUBLE_ID);
        return;
    }
    letter.text = text_in(letter.body, sizeof(letter.body));
    letter.changes = 0;
    write_changes(on_fault, common, &letter);
    if (letter.changes == 0)
        return;
    on_fault->due = mono_after(common->now.mono, EVERY_MS);
    run(on_fault, common, &letter);
    note_told(on_fault, common);
}

void on_fault_end(struct on_fault *on_fault)
{
    int status;
    if (on_fault->pid == 0)
        return;
    kill(-on_fault->pid, SIGKILL);
    waitpid(on_fault->pid, &status, 0);
    on_fault->pid = 0;
}
