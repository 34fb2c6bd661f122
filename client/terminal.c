#include "terminal.h"

#include <stdio.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

enum { END_OF_INPUT = 4, BACKSPACE = 8, EMPTY_LINE = 21, DELETE = 127 }; /* Ctrl-D, Ctrl-H, Ctrl-U */

bool cot_at_terminal(void)
{
    return isatty(STDIN_FILENO) && isatty(STDOUT_FILENO);
}

/* Keys come one by one and are not echoed; false: it is no terminal, or will not. */
static bool raw_mode(struct termios *was)
{
    if (tcgetattr(STDIN_FILENO, was) != 0) return false;
    struct termios now = *was;
    now.c_lflag &= ~(tcflag_t)(ICANON | ECHO);
    now.c_cc[VMIN] = 1;
    now.c_cc[VTIME] = 0;
    return tcsetattr(STDIN_FILENO, TCSANOW, &now) == 0;
}

int cot_key_read(void)
{
    struct termios was;
    char key = 'q';
    bool raw = raw_mode(&was);
    if (read(STDIN_FILENO, &key, 1) != 1) key = 'q';
    if (raw) (void)tcsetattr(STDIN_FILENO, TCSANOW, &was);
    if (key >= ' ' && key < DELETE) putchar(key);
    putchar('\n');
    return key;
}

static void rub_out(size_t n)
{
    for (; n > 0; n--) fputs("\b \b", stdout);
}

/* Takes the key into the line; true when the line is done. */
static bool take_key(char key, char *line, size_t size, size_t *len, const char *at_once)
{
    if (key == '\n' || key == '\r') return true;
    if ((key == BACKSPACE || key == DELETE) && *len > 0) {
        rub_out(1);
        (*len)--;
    } else if (key == EMPTY_LINE) {
        rub_out(*len);
        *len = 0;
    } else if ((unsigned char)key >= ' ' && key != DELETE && *len + 1 < size) {
        putchar(key);
        line[(*len)++] = key;
        return *len == 1 && strchr(at_once, key) != NULL;
    }
    return false;
}

bool cot_line_typed(char *line, size_t size, const char *at_once)
{
    struct termios was;
    size_t len = 0;
    char key = 0;
    bool raw = raw_mode(&was), done = false, more = true;
    while (!done && more) {
        fflush(stdout);
        more = read(STDIN_FILENO, &key, 1) == 1 && !(key == END_OF_INPUT && len == 0);
        done = more && take_key(key, line, size, &len, at_once);
    }
    if (raw) (void)tcsetattr(STDIN_FILENO, TCSANOW, &was);
    putchar('\n');
    line[len] = '\0';
    return more || len > 0;
}
