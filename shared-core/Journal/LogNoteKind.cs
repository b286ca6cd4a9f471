namespace Cardassay.Journal;

/// <summary>What a note says; numbers are part of the file format.</summary>
internal enum LogNoteKind : byte
{
    /// <summary>Everything of the epoch up to <see cref="LogNote.First"/> has been received elsewhere.</summary>
    Released = 1,

    /// <summary>The loss of First to Last has been reported and need not be again.</summary>
    LossAcknowledged = 2,

    /// <summary>The segment is complete; its successor has the ordinal <see cref="LogNote.First"/>.</summary>
    Sealed = 3,
}
