"""Saying aloud what was read, for a coach whose eyes and hands are with the robot.

A voice where the system has one, else short tones made here, else the system's beep; none of it may ever stop the window.
"""

from __future__ import annotations

import math
import struct
import wave
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from PySide6.QtCore import QObject, QUrl
from PySide6.QtWidgets import QApplication

RATE_HZ = 22_050
TONES = {"begun": (660.0, 880.0), "kept": (880.0, 660.0), "read": (740.0,), "wrong": (330.0, 247.0)}


@cache
def _folder() -> TemporaryDirectory[str]:
    """Our own, made by this program and gone with it: in the common one others could have put a file or a link."""
    return TemporaryDirectory(prefix="sidelong-")


def tone_file(name: str) -> Path:
    """A short tone as a WAV file; made once."""
    path = Path(_folder().name) / f"{name}.wav"
    if not path.exists():
        frames = bytearray()
        for pitch in TONES[name]:
            length = int(RATE_HZ * 0.14)
            for number in range(length):
                fade = min(1.0, number / 200, (length - number) / 800)
                frames += struct.pack("<h", int(9000 * fade * math.sin(2 * math.pi * pitch * number / RATE_HZ)))
        with wave.open(str(path), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(RATE_HZ)
            file.writeframes(bytes(frames))
    return path


class Voice(QObject):
    """``say`` speaks or plays. ``means``: voice, tones or beep. ``said``: what it was asked to say."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.said: list[str] = []
        self.on = False
        self._speech: Any = None
        self._sounds: dict[str, Any] = {}
        self.means = "beep"

    def switch(self, on: bool) -> None:
        """Sound on or off; what is needed for it is loaded at the first 'on'."""
        self.on = on
        if on and self._speech is None and not self._sounds:
            self._find_means()

    def _find_means(self) -> None:
        try:
            from PySide6.QtTextToSpeech import QTextToSpeech

            engines = [name for name in QTextToSpeech.availableEngines() if name != "mock"]
            if engines:
                self._speech = QTextToSpeech(engines[0], self)
                self.means = "voice"
                return
        except (ImportError, RuntimeError):
            pass
        try:
            from PySide6.QtMultimedia import QMediaDevices, QSoundEffect

            if QMediaDevices.audioOutputs():
                for name in TONES:
                    effect = QSoundEffect(self)
                    effect.setSource(QUrl.fromLocalFile(str(tone_file(name))))
                    self._sounds[name] = effect
                self.means = "tones"
        except (ImportError, RuntimeError):
            pass

    def say(self, words: str, tone: str = "read") -> None:
        """Say ``words`` where there is a voice, else play ``tone``."""
        if not self.on:
            return
        self.said.append(words)
        if self._speech is not None:
            self._speech.say(words)
        elif tone in self._sounds:
            self._sounds[tone].play()
        else:
            QApplication.beep()
