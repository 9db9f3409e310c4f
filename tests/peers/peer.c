/* peer.c - starting, ordering and ending the peers of the tests.
 *
 * A peer ends when its standard input does, so also with the test's process: a
 * failing test leaves nothing running. */
#include "peers/peer.h"

#include <check.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { LINE_BYTES = 1024 };

static const char *interpreter_of(const char *program)
{
    bool script = strstr(program, ".js") != NULL;
    if (script && access(PEERS_DIR "/node_modules/jsmodbus", F_OK) != 0) {
        ck_abort_msg("the npm peer is not installed: run  npm ci --prefix tests/peers");
    }
    /* Debian's own interpreter: it is the one that has python3-pymodbus. */
    return script ? "node" : "/usr/bin/python3";
}

static void become(const char *program, const char *argument, int orders, int words)
{
    char path[512];
    snprintf(path, sizeof path, "%s/%s", PEERS_DIR, program);
    dup2(orders, STDIN_FILENO);
    dup2(words, STDOUT_FILENO);
    setenv("PYTHONDONTWRITEBYTECODE", "1", 1);
    const char *interpreter = interpreter_of(program);
    execlp(interpreter, interpreter, path, argument, (char *)NULL);
    _exit(127);
}

/* The rest of the next line that begins with `word`; others are passed over. */
static void await(struct peer *peer, const char *word, char *rest, size_t size)
{
    char line[LINE_BYTES];
    size_t length = strlen(word);
    while (fgets(line, sizeof line, peer->words)) {
        if (strncmp(line, word, length) == 0) {
            line[strcspn(line, "\n")] = '\0';
            snprintf(rest, size, "%s", line[length] == ' ' ? line + length + 1 : "");
            return;
        }
        peer->passed_over += strncmp(line, "asked", 5) == 0;
    }
    ck_abort_msg("the peer ended before it said \"%s\": see above what it lacks (python3-pymodbus, "
                 "node, or npm ci --prefix tests/peers)",
                 word);
}

struct peer peer_start(const char *program, const char *argument)
{
    int orders[2], words[2];
    interpreter_of(program); /* says here, not in the child, what is missing */
    ck_assert_int_eq(pipe2(orders, O_CLOEXEC), 0);
    ck_assert_int_eq(pipe2(words, O_CLOEXEC), 0);
    struct peer peer = {.pid = fork()};
    ck_assert_int_ge(peer.pid, 0);
    if (peer.pid == 0) {
        become(program, argument, orders[0], words[1]);
    }
    close(orders[0]);
    close(words[1]);
    peer.orders = fdopen(orders[1], "w");
    peer.words = fdopen(words[0], "r");
    await(&peer, "ready", peer.name, sizeof peer.name);
    return peer;
}

void peer_stop(struct peer *peer)
{
    fclose(peer->orders);
    fclose(peer->words);
    waitpid(peer->pid, NULL, 0);
}

void peer_order(struct peer *peer, const char *format, ...)
{
    va_list values;
    va_start(values, format);
    vfprintf(peer->orders, format, values);
    va_end(values);
    fputc('\n', peer->orders);
    fflush(peer->orders);
    char nothing[2];
    await(peer, "done", nothing, sizeof nothing);
}

void peer_asked(struct peer *peer, char *hex, size_t size)
{
    await(peer, "asked", hex, size);
}

int peer_asked_count(const struct peer *peer)
{
    return peer->passed_over;
}
