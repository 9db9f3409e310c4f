/* parity_line.c - gives a pty what it lacks: a parity that must be right.
 *
 * Preloaded into sluice. A pty takes no parity (Linux masks it), so a port that is set to
 * another one than LINE_PARITY (none, even, odd) gets a mark in a field that raw lines don't
 * use, VEOL2; the peer at the other end looks there, and is deaf or talks garbage as at a wrong
 * speed. What is tested so is which parities are asked for, in which order, and what becomes
 * of an answer; not the hardware. */
#include <dlfcn.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>

typedef int set_fn(int fd, int actions, const struct termios *line);

static const char *parity_of(const struct termios *line)
{
    return !(line->c_cflag & PARENB) ? "none" : line->c_cflag & PARODD ? "odd" : "even";
}

int tcsetattr(int fd, int actions, const struct termios *line)
{
    set_fn *real = (set_fn *)dlsym(RTLD_NEXT, "tcsetattr");
    const char *wanted = getenv("LINE_PARITY");
    struct termios given = *line;
    given.c_cc[VEOL2] = wanted && strcmp(wanted, parity_of(line)) != 0;
    given.c_cflag &= (tcflag_t) ~(PARENB | PARODD);
    return real(fd, actions, &given);
}
