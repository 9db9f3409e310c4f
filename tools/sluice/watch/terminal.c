/* terminal.c - a guard beside the command holds the other end of a pipe: when that closes without
 * a word, the command was killed, and the guard puts the terminal back in its place. */
#include "terminal.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

static const char enter[] = "\033[?1049h\033[?25l\033[2J";
static const char leave[] = "\033[0m\033[?25h\033[?1049l";

enum { BYTES_MAX = 64, SEQUENCE_WAIT_MS = 50 };

struct terminal {
    struct termios before, raw;
    sigset_t caught, mask_before;
    pid_t guard;
    int guard_fd; /* a byte there: it ended well */
    unsigned char bytes[BYTES_MAX];
    size_t from, to;
};

static volatile sig_atomic_t ended, stopped, changed;

static void take_signal(int number)
{
    if (number == SIGWINCH)
        changed = 1;
    else if (number == SIGTSTP)
        stopped = 1;
    else
        ended = 1;
}

static const int caught[] = {SIGINT, SIGTERM, SIGHUP, SIGTSTP, SIGWINCH};
enum { CAUGHT = sizeof(caught) / sizeof(caught[0]) };

/* Held back but while a key is waited for: none comes between a look and the wait. */
static void catch_signals(struct terminal *terminal)
{
    struct sigaction action = {.sa_handler = take_signal};
    sigemptyset(&terminal->caught);
    for (size_t k = 0; k < CAUGHT; k++) {
        sigaddset(&terminal->caught, caught[k]);
        sigaction(caught[k], &action, NULL);
    }
    sigprocmask(SIG_BLOCK, &terminal->caught, &terminal->mask_before);
}

void terminal_write(const char *bytes, size_t count)
{
    while (count > 0) {
        ssize_t written = write(STDOUT_FILENO, bytes, count);
        if (written < 0 && errno == EINTR)
            continue;
        if (written <= 0)
            return;
        bytes += written;
        count -= (size_t)written;
    }
}

static void put_back(const struct terminal *terminal)
{
    tcsetattr(STDIN_FILENO, TCSADRAIN, &terminal->before);
    terminal_write(leave, strlen(leave));
}

static void take(const struct terminal *terminal)
{
    tcsetattr(STDIN_FILENO, TCSADRAIN, &terminal->raw);
    terminal_write(enter, strlen(enter));
}

/* ---- the guard ------------------------------------------------------------------------------- */

static _Noreturn void guard(const struct terminal *terminal, int fd)
{
    char word;
    ssize_t got;
    signal(SIGTTOU, SIG_IGN); /* it may write though it stands in the background */
    do
        got = read(fd, &word, 1);
    while (got < 0 && errno == EINTR);
    if (got == 0)
        put_back(terminal);
    _exit(0);
}

static bool begin_guard(struct terminal *terminal)
{
    int ends[2];
    if (pipe(ends) != 0)
        return false;
    terminal->guard = fork();
    if (terminal->guard == 0) {
        close(ends[1]);
        guard(terminal, ends[0]);
    }
    close(ends[0]);
    terminal->guard_fd = ends[1];
    if (terminal->guard < 0)
        close(ends[1]);
    return terminal->guard > 0;
}

static void end_guard(struct terminal *terminal)
{
    if (write(terminal->guard_fd, ".", 1) == 1)
        waitpid(terminal->guard, NULL, 0);
    close(terminal->guard_fd);
}

/* ---- opening and closing --------------------------------------------------------------------- */

struct terminal *terminal_open(struct trouble *trouble)
{
    struct terminal *terminal = calloc(1, sizeof(*terminal));
    if (!terminal || !isatty(STDIN_FILENO) || !isatty(STDOUT_FILENO) ||
        tcgetattr(STDIN_FILENO, &terminal->before) != 0) {
        trouble_set(trouble, "", "a terminal is needed; in a script use \"sluice status\"");
        free(terminal);
        return NULL;
    }
    terminal->raw = terminal->before;
    terminal->raw.c_lflag &= ~(tcflag_t)(ICANON | ECHO);
    terminal->raw.c_cc[VMIN] = 1;
    terminal->raw.c_cc[VTIME] = 0;
    catch_signals(terminal);
    if (!begin_guard(terminal)) {
        trouble_set(trouble, "", "no process could be started: %s", strerror(errno));
        sigprocmask(SIG_SETMASK, &terminal->mask_before, NULL);
        free(terminal);
        return NULL;
    }
    take(terminal);
    return terminal;
}

void terminal_close(struct terminal *terminal)
{
    put_back(terminal);
    end_guard(terminal);
    sigprocmask(SIG_SETMASK, &terminal->mask_before, NULL);
    free(terminal);
}

void terminal_size(int *columns, int *rows)
{
    struct winsize size = {0};
    ioctl(STDOUT_FILENO, TIOCGWINSZ, &size);
    *columns = size.ws_col ? size.ws_col : 80;
    *rows = size.ws_row ? size.ws_row : 24;
}

/* ---- keys ------------------------------------------------------------------------------------ */

/* As a program that knows of no stop would: whoever stopped it has the terminal meanwhile. */
static void stop(struct terminal *terminal)
{
    put_back(terminal);
    raise(SIGSTOP);
    take(terminal);
}

/* Whether there is a byte within that time, or one of the signals. */
static bool wait_for_byte(struct terminal *terminal, int wait_ms)
{
    struct pollfd input = {.fd = STDIN_FILENO, .events = POLLIN};
    struct timespec limit = {wait_ms / 1000, wait_ms % 1000 * 1000000L};
    if (terminal->from < terminal->to)
        return true;
    if (ppoll(&input, 1, &limit, &terminal->mask_before) <= 0)
        return false;
    ssize_t got = read(STDIN_FILENO, terminal->bytes, sizeof(terminal->bytes));
    if (got <= 0)
        ended = 1;
    terminal->from = 0;
    terminal->to = got > 0 ? (size_t)got : 0;
    return got > 0;
}

/* What follows an escape, up to its final byte (ECMA-48, 5.4); one alone is a key. */
static int sequence(struct terminal *terminal)
{
    if (!wait_for_byte(terminal, SEQUENCE_WAIT_MS))
        return KEY_ESCAPE;
    unsigned char byte = terminal->bytes[terminal->from++];
    if (byte != '[' && byte != 'O')
        return KEY_OTHER;
    do {
        if (!wait_for_byte(terminal, SEQUENCE_WAIT_MS))
            return KEY_OTHER;
        byte = terminal->bytes[terminal->from++];
    } while (byte < 0x40);
    return byte == 'A' ? KEY_UP : byte == 'B' ? KEY_DOWN : KEY_OTHER;
}

int terminal_key(struct terminal *terminal, int wait_ms)
{
    bool there = wait_for_byte(terminal, wait_ms);
    if (ended)
        return KEY_END;
    if (stopped) {
        stop(terminal);
        stopped = 0;
        changed = 1;
    }
    if (changed) {
        changed = 0;
        return KEY_REDRAW;
    }
    if (!there)
        return KEY_NONE;
    unsigned char byte = terminal->bytes[terminal->from++];
    return byte == KEY_ESCAPE ? sequence(terminal) : byte;
}
