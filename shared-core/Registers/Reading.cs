namespace Cardassay.Registers;

/// <summary>Whether a value could be had from the machine.</summary>
public enum ReadingState
{
    /// <summary>The machine does not offer the value (the file does not exist).</summary>
    Absent = 0,

    /// <summary>The value was read; it may be zero or empty, which is not the same as absent.</summary>
    Known = 1,

    /// <summary>The value is offered but reading it failed; <see cref="Reading{T}.Reason"/> says why.</summary>
    Unreadable = 2,
}

/// <summary>
/// One value read from the machine. Missing, unreadable and zero are three things and stay three things from the
/// register file to the report.
/// </summary>
public readonly record struct Reading<T>
{
    private Reading(ReadingState state, T? value, string? reason)
    {
        State = state;
        Value = value;
        Reason = reason;
    }

    /// <summary>Which of the three it is; the default of the type is <see cref="ReadingState.Absent"/>.</summary>
    public ReadingState State { get; }

    /// <summary>The value when <see cref="State"/> is <see cref="ReadingState.Known"/>, else the default.</summary>
    public T? Value { get; }

    /// <summary>Why it could not be read, when <see cref="State"/> is <see cref="ReadingState.Unreadable"/>.</summary>
    public string? Reason { get; }

    /// <summary>True when <see cref="Value"/> holds what the machine said.</summary>
    public bool IsKnown => State == ReadingState.Known;

    /// <summary>A value that was read.</summary>
    public static Reading<T> Known(T value) => new(ReadingState.Known, value, null);

    /// <summary>A value the machine does not offer.</summary>
    public static Reading<T> Absent() => default;

    /// <summary>A value that is offered but could not be read.</summary>
    public static Reading<T> Unreadable(string reason) => new(ReadingState.Unreadable, default, reason);
}
