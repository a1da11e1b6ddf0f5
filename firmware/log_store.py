"""Puts the flight log's blocks into files: parts of a session, room for records, small pieces.

Called between two ticks while all is quiet; may allocate. Files, and why pieces:
hardware_notes/flight_log.md.
"""

import gc

from alula import log_layout
from alula.log_block import fill_header, seal
from drivers.log_files import file_name

RESERVE_BYTES = 65536  # never used by logs: a save of settings or calibration always finds room
SLACK_BLOCKS = 6  # what littlefs needs beside the content: pointers, and copies while it appends
PART_BLOCKS = 64  # then a new file, so that the oldest part of a long session can go, too
PIECE_BYTES = 1024
TRIES = 3


class LogStore:
    """Takes blocks from a ring, seals them, and writes them, one step a call.

    files: `LogFiles`. head: payload of the session's head. writing: a block is under way.
    tries: failures in a row. over: the log cannot go on; problem: why the latest step failed.
    """

    def __init__(self, files, ring, session: int, head: bytes) -> None:
        self._files = files
        self._ring = ring
        self._session = session
        self._head = head
        self._heads = (len(head) - 1) // log_layout.PAYLOAD_MOST + 1
        self._heads_left = 0
        self._part, self._part_blocks = -1, PART_BLOCKS
        self._name = ""
        self._room = 0  # blocks; 0: ask the flash
        self._block = ring.spare
        self._at = 0
        self.writing = False
        self.tries = 0
        self.over = False
        self.problem = ""

    def step(self, now_ms: int) -> bool:
        """Choose a block, write a piece of it, or close the file; False if that failed."""
        self.problem = self._write_piece() if self.writing else self._choose(now_ms)
        if not self.problem:
            return True
        self._files.abandon()
        self._at = 0
        self._room = 0
        self.tries += 1
        self.over = self.over or self.tries >= TRIES
        return False

    def _choose(self, now_ms: int) -> str:
        """The next block to write: a head in each new file, then what waits."""
        if self._part_blocks >= PART_BLOCKS:
            self._part += 1
            self._part_blocks = 0
            self._heads_left = self._heads
            self._name = file_name(self._session, self._part)
        if self._room <= 0:
            problem = self._make_room()
            if problem or self._room <= 0:
                return problem
        if self._heads_left:
            self._block = self._ring.spare
            self._compose_head(self._heads - self._heads_left, now_ms)
        else:
            self._block = self._ring.take()
        seal(self._block)
        self.writing = True
        self._at = 0
        return ""

    def _compose_head(self, index: int, now_ms: int) -> None:
        start = index * log_layout.PAYLOAD_MOST
        part = self._head[start:start + log_layout.PAYLOAD_MOST]
        fill_header(self._block, log_layout.HEAD, self._session, index, now_ms, self._heads,
                    len(part))
        self._block[log_layout.HEADER_BYTES:log_layout.HEADER_BYTES + len(part)] = part

    def _make_room(self) -> str:
        """Ask the flash for its room; where there is none, the oldest log goes. One a step."""
        free = self._files.free_bytes()
        if free is None:
            return "the flash does not tell its free space"
        self._room = (free - RESERVE_BYTES) // log_layout.BLOCK_BYTES - SLACK_BLOCKS
        if self._room > 0:
            return ""
        names = [name for name in self._files.logs() if name != self._name]
        if names:
            return self._files.remove(names[0])
        self.over = True
        return "no room beside the %d kB kept for records" % (RESERVE_BYTES // 1024)

    def _write_piece(self) -> str:
        """The next piece; after the last one, close."""
        files, at = self._files, self._at
        if at == log_layout.BLOCK_BYTES:
            problem = files.end()
            if not problem:
                self._done()
            return problem
        problem = files.begin(self._name) if at == 0 else ""
        if not problem:
            problem = files.write(memoryview(self._block)[at:at + PIECE_BYTES])
            self._at += PIECE_BYTES
        return problem

    def _done(self) -> None:
        self.writing = False
        self.tries = 0
        self._room -= 1
        if self._heads_left:
            self._heads_left -= 1
        else:
            self._part_blocks += 1
        gc.collect()  # here, while quiet, what the writing left behind
